package sqlite

import (
	"context"
	"database/sql"
	"errors"

	"budward/store"
)

// AddStage keeps a stage record.
func (s *Store) AddStage(ctx context.Context, r store.StageRecord) (store.StageRecord, error) {
	if err := store.CheckStage(r); err != nil {
		return store.StageRecord{}, err
	}
	r.At = utc(r.At)
	r.Withdrawn = store.Withdrawal{}
	r.Counts = append([]store.StageCount(nil), r.Counts...)
	err := s.update(ctx, func(tx *sql.Tx) error {
		if err := requireNoun(ctx, tx, "block", r.BlockID); err != nil {
			return err
		}
		err := tx.QueryRowContext(ctx,
			"INSERT INTO stage_record (block_id, observed_at, who, unit, note) VALUES ($1, $2, $3, $4, $5) RETURNING id",
			r.BlockID, r.At.UnixMilli(), r.Who, string(r.Unit), r.Note).Scan(&r.ID)
		if err != nil {
			return err
		}
		for i, n := range r.Counts {
			_, err := tx.ExecContext(ctx, "INSERT INTO stage_count (record_id, pos, scale, code, amount) VALUES ($1, $2, $3, $4, $5)",
				r.ID, i, string(n.Stage.Scale), n.Stage.Code, n.Amount)
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return store.StageRecord{}, err
	}
	return r, nil
}

// Stages lists stage records by time, then ID.
func (s *Store) Stages(ctx context.Context, q store.StageQuery) ([]store.StageRecord, error) {
	var out []store.StageRecord
	err := s.view(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, `
			SELECT r.id, r.block_id, r.observed_at, r.who, r.unit, r.note, r.withdrawn_at, r.withdrawn_why, c.scale, c.code, c.amount
			FROM stage_record r JOIN stage_count c ON c.record_id = r.id
			WHERE ($1 = '' OR r.block_id = $1)
			  AND ($2 IS NULL OR r.observed_at >= $2)
			  AND ($3 IS NULL OR r.observed_at < $3)
			  AND ($4 OR r.withdrawn_at IS NULL)
			ORDER BY r.observed_at, r.id, c.pos`, q.BlockID, msUp(q.From), msUp(q.To), q.Withdrawn)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var r store.StageRecord
			var n store.StageCount
			var at int64
			var gone *int64
			var why *string
			err := rows.Scan(&r.ID, &r.BlockID, &at, &r.Who, &r.Unit, &r.Note, &gone, &why, &n.Stage.Scale, &n.Stage.Code, &n.Amount)
			if err != nil {
				return err
			}
			if len(out) == 0 || out[len(out)-1].ID != r.ID {
				r.At, r.Withdrawn = fromMs(&at), withdrawal(gone, why)
				out = append(out, r)
			}
			last := &out[len(out)-1]
			last.Counts = append(last.Counts, n)
		}
		return rows.Err()
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// WithdrawStage makes a stage record stop counting.
func (s *Store) WithdrawStage(ctx context.Context, id int64, w store.Withdrawal) error {
	return s.withdraw(ctx, "stage_record", "stage record", id, w)
}

// WithdrawBatch makes a batch stop counting.
func (s *Store) WithdrawBatch(ctx context.Context, id int64, w store.Withdrawal) error {
	return s.withdraw(ctx, "batch", "batch", id, w)
}

func (s *Store) withdraw(ctx context.Context, table, what string, id int64, w store.Withdrawal) error {
	switch {
	case w.At.IsZero():
		return &store.InvalidError{Where: "withdrawal of " + what + " " + idText(id), Field: "at", Value: "empty", Want: "a time"}
	case w.Why == "":
		return &store.InvalidError{Where: "withdrawal of " + what + " " + idText(id), Field: "why", Value: "empty", Want: "a reason"}
	}
	return s.update(ctx, func(tx *sql.Tx) error {
		var gone *int64
		err := tx.QueryRowContext(ctx, "SELECT withdrawn_at FROM "+table+" WHERE id = $1", id).Scan(&gone)
		if errors.Is(err, sql.ErrNoRows) {
			return &store.NotFoundError{What: what, ID: idText(id)}
		}
		if err != nil {
			return err
		}
		if gone != nil {
			return &store.ConflictError{What: what, ID: idText(id), Why: "it has been withdrawn already"}
		}
		_, err = tx.ExecContext(ctx, "UPDATE "+table+" SET withdrawn_at = $1, withdrawn_why = $2 WHERE id = $3",
			w.At.UnixMilli(), w.Why, id)
		return err
	})
}

func withdrawal(at *int64, why *string) store.Withdrawal {
	if at == nil || why == nil {
		return store.Withdrawal{}
	}
	return store.Withdrawal{At: fromMs(at), Why: *why}
}
