package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"budward/decide/weather"
	"budward/store"
)

// loadVariables reads this file's numbers for the variables and adds those of
// this program that it does not have yet.
func (s *Store) loadVariables(ctx context.Context) error {
	s.varNo = map[weather.Variable]int64{}
	s.varFrom = map[int64]weather.Variable{}
	err := s.view(ctx, s.readVariables(ctx))
	if err != nil || len(s.varNo) == int(weather.NumVariables) {
		return err
	}
	return s.update(ctx, func(tx *sql.Tx) error {
		for v := range weather.NumVariables {
			if _, err := tx.ExecContext(ctx, "INSERT INTO variable (name) VALUES ($1) ON CONFLICT (name) DO NOTHING", v.String()); err != nil {
				return err
			}
		}
		return s.readVariables(ctx)(tx)
	})
}

func (s *Store) readVariables(ctx context.Context) func(tx *sql.Tx) error {
	return func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, "SELECT no, name FROM variable")
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var no int64
			var name string
			if err := rows.Scan(&no, &name); err != nil {
				return err
			}
			v, err := weather.ParseVariable(name)
			if err != nil {
				return &store.NewerError{Path: s.path, What: "it holds " + name}
			}
			s.varNo[v], s.varFrom[no] = no, v
		}
		return rows.Err()
	}
}

// AddBatch keeps a batch of weather.
func (s *Store) AddBatch(ctx context.Context, b weather.Batch) (store.BatchInfo, error) {
	if err := store.CheckBatch(b); err != nil {
		return store.BatchInfo{}, err
	}
	info := describe(b)
	digest := store.Digest(b)
	err := s.update(ctx, func(tx *sql.Tx) error {
		if err := requireNoun(ctx, tx, "station", b.StationID); err != nil {
			return err
		}
		if err := notFedYet(ctx, tx, digest); err != nil {
			return err
		}
		no, err := stationNo(ctx, tx, b.StationID)
		if err != nil {
			return err
		}
		notes := info.Notes
		if notes == nil {
			notes = []string{}
		}
		var elevation any
		if info.HasElevation {
			elevation = info.ElevationM
		}
		err = tx.QueryRowContext(ctx, `
			INSERT INTO batch (station_no, kind, origin, issued_at, fed_at, digest, samples, gaps, refused, first_at, last_at, notes, elevation_m)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13) RETURNING id`,
			no, string(info.Kind), info.Origin, ms(info.IssuedAt), ms(info.FedAt), digest, info.Samples, info.Gaps,
			info.Refused, ms(info.FirstAt), ms(info.LastAt), encode(notes), elevation).Scan(&info.ID)
		if err != nil {
			return err
		}
		for i, r := range b.Refused {
			_, err := tx.ExecContext(ctx,
				"INSERT INTO refusal (batch_id, pos, origin, line, field, value, why) VALUES ($1, $2, $3, $4, $5, $6, $7)",
				info.ID, i, r.Origin, r.Line, r.Field, r.Value, r.Why)
			if err != nil {
				return err
			}
		}
		return s.insertSamples(ctx, tx, info, no, b.Samples)
	})
	if err != nil {
		return store.BatchInfo{}, err
	}
	return info, nil
}

// describe is the provenance of a batch as it will be read back.
func describe(b weather.Batch) store.BatchInfo {
	info := store.BatchInfo{
		StationID: b.StationID, Kind: b.Kind, Origin: b.Origin, IssuedAt: utc(b.IssuedAt), FedAt: utc(b.FedAt),
		Samples: len(b.Samples), Gaps: b.Gaps, Refused: max(b.RefusedTotal, len(b.Refused)),
		Notes: append([]string(nil), b.Notes...), HasElevation: b.HasElevation,
	}
	if b.HasElevation {
		info.ElevationM = b.ElevationM
	}
	for _, x := range b.Samples {
		if info.FirstAt.IsZero() || x.At.Before(info.FirstAt) {
			info.FirstAt = utc(x.At)
		}
		if x.At.After(info.LastAt) || info.LastAt.IsZero() {
			info.LastAt = utc(x.At)
		}
	}
	return info
}

func notFedYet(ctx context.Context, tx *sql.Tx, digest string) error {
	var e store.AlreadyFedError
	var at int64
	err := tx.QueryRowContext(ctx,
		"SELECT id, origin, fed_at FROM batch WHERE digest = $1 AND withdrawn_at IS NULL", digest).Scan(&e.ID, &e.Origin, &at)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	e.FedAt = fromMs(&at)
	return &e
}

func stationNo(ctx context.Context, tx *sql.Tx, id string) (no int64, err error) {
	_, err = tx.ExecContext(ctx, "INSERT INTO fed_station (station_id) VALUES ($1) ON CONFLICT (station_id) DO NOTHING", id)
	if err != nil {
		return 0, err
	}
	err = tx.QueryRowContext(ctx, "SELECT no FROM fed_station WHERE station_id = $1", id).Scan(&no)
	return no, err
}

func (s *Store) insertSamples(ctx context.Context, tx *sql.Tx, info store.BatchInfo, station int64, samples []weather.Sample) error {
	query := "INSERT INTO reading (batch_id, at, variable_no, value, station_no) VALUES ($1, $2, $3, $4, $5)"
	args := []any{info.ID, nil, nil, nil, station}
	if info.Kind == weather.Forecast {
		query = "INSERT INTO forecast (batch_id, at, variable_no, value) VALUES ($1, $2, $3, $4)"
		args = args[:4]
	}
	insert, err := tx.PrepareContext(ctx, query)
	if err != nil {
		return err
	}
	defer insert.Close()
	for _, x := range samples {
		args[1], args[2], args[3] = x.At.UnixMilli(), s.varNo[x.Var], x.Value
		if _, err := insert.ExecContext(ctx, args...); err != nil {
			return err
		}
	}
	return nil
}

const batchColumns = `
	SELECT b.id, f.station_id, b.kind, b.origin, b.issued_at, b.fed_at, b.samples, b.gaps, b.refused,
	       b.first_at, b.last_at, b.notes, b.elevation_m, b.withdrawn_at, b.withdrawn_why
	FROM batch b JOIN fed_station f ON f.no = b.station_no `

// Batches lists batches without samples, by ID.
func (s *Store) Batches(ctx context.Context, q store.BatchQuery) ([]store.BatchInfo, error) {
	var out []store.BatchInfo
	err := s.view(ctx, func(tx *sql.Tx) (err error) {
		out, err = s.findBatches(ctx, tx, q)
		return err
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func (s *Store) findBatches(ctx context.Context, tx *sql.Tx, q store.BatchQuery) ([]store.BatchInfo, error) {
	// first_at and last_at narrow the search; that a sample lies inside is asked of
	// the samples, because a batch may have a hole there.
	return s.batchRows(ctx, tx, batchColumns+`
		WHERE ($1 = '' OR f.station_id = $1)
		  AND ($2 = '' OR b.kind = $2)
		  AND ($3 IS NULL OR b.issued_at >= $3)
		  AND ($4 IS NULL OR b.issued_at < $4)
		  AND ($5 IS NULL OR b.fed_at <= $5)
		  AND ($6 OR b.withdrawn_at IS NULL)
		  AND ($7 IS NULL OR b.last_at >= $7)
		  AND ($8 IS NULL OR b.first_at < $8)
		  AND (($7 IS NULL AND $8 IS NULL)
		    OR EXISTS (SELECT 1 FROM forecast x WHERE x.batch_id = b.id
		         AND x.at >= coalesce($7, b.first_at) AND ($8 IS NULL OR x.at < $8))
		    OR EXISTS (SELECT 1 FROM reading x WHERE x.station_no = b.station_no AND x.batch_id = b.id
		         AND x.at >= coalesce($7, b.first_at) AND x.at <= b.last_at AND ($8 IS NULL OR x.at < $8)))
		ORDER BY b.id`,
		q.StationID, string(q.Kind), msUp(q.IssuedFrom), msUp(q.IssuedTo), ms(q.KnownBy), q.Withdrawn, msUp(q.SamplesFrom), msUp(q.SamplesTo))
}

func (s *Store) batchRows(ctx context.Context, tx *sql.Tx, query string, args ...any) ([]store.BatchInfo, error) {
	rows, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []store.BatchInfo
	for rows.Next() {
		var b store.BatchInfo
		var issued, fed, first, last, gone *int64
		var notes string
		var elevation *float64
		var why *string
		err := rows.Scan(&b.ID, &b.StationID, &b.Kind, &b.Origin, &issued, &fed, &b.Samples, &b.Gaps, &b.Refused,
			&first, &last, &notes, &elevation, &gone, &why)
		if err != nil {
			return nil, err
		}
		b.IssuedAt, b.FedAt, b.FirstAt, b.LastAt = fromMs(issued), fromMs(fed), fromMs(first), fromMs(last)
		b.Withdrawn = withdrawal(gone, why)
		if elevation != nil {
			b.ElevationM, b.HasElevation = *elevation, true
		}
		if err := json.Unmarshal([]byte(notes), &b.Notes); err != nil {
			return nil, &store.CorruptError{Path: s.path, Why: fmt.Sprintf("the notes of batch %d cannot be read", b.ID), Err: err}
		}
		if len(b.Notes) == 0 {
			b.Notes = nil
		}
		out = append(out, b)
	}
	return out, rows.Err()
}

// LoadBatches gives batches with their samples, by ID.
func (s *Store) LoadBatches(ctx context.Context, q store.BatchQuery) ([]store.Batch, error) {
	var out []store.Batch
	err := s.view(ctx, func(tx *sql.Tx) error {
		infos, err := s.findBatches(ctx, tx, q)
		if err != nil {
			return err
		}
		for _, info := range infos {
			b, err := s.loadBatchWithin(ctx, tx, info, q.SamplesFrom, q.SamplesTo)
			if err != nil {
				return err
			}
			out = append(out, b)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// LatestForecast gives the forecast issued last that was known by a moment.
func (s *Store) LatestForecast(ctx context.Context, stationID string, knownBy time.Time) (store.Batch, error) {
	var out store.Batch
	err := s.view(ctx, func(tx *sql.Tx) error {
		infos, err := s.batchRows(ctx, tx, batchColumns+`
			WHERE f.station_id = $1 AND b.kind = 'forecast' AND b.withdrawn_at IS NULL AND b.issued_at <= $2 AND b.fed_at <= $2
			ORDER BY b.issued_at DESC, b.id DESC LIMIT 1`, stationID, knownBy.UnixMilli())
		if err != nil {
			return err
		}
		if len(infos) == 0 {
			return &store.NotFoundError{What: "forecast by " + knownBy.UTC().Format(time.RFC3339) + " for station", ID: stationID}
		}
		out, err = s.loadBatch(ctx, tx, infos[0])
		return err
	})
	if err != nil {
		return store.Batch{}, err
	}
	return out, nil
}

func (s *Store) loadBatch(ctx context.Context, tx *sql.Tx, info store.BatchInfo) (store.Batch, error) {
	return s.loadBatchWithin(ctx, tx, info, time.Time{}, time.Time{})
}

// loadBatchWithin reads a batch's samples from <= time < to; zero times do not
// bound.
func (s *Store) loadBatchWithin(ctx context.Context, tx *sql.Tx, info store.BatchInfo, from, to time.Time) (store.Batch, error) {
	b := store.Batch{Info: info, Data: weather.Batch{
		StationID: info.StationID, Kind: info.Kind, Origin: info.Origin, IssuedAt: info.IssuedAt, FedAt: info.FedAt,
		Gaps: info.Gaps, RefusedTotal: info.Refused, Notes: info.Notes, ElevationM: info.ElevationM, HasElevation: info.HasElevation,
	}}
	var err error
	if b.Data.Refused, err = refusals(ctx, tx, info.ID); err != nil || info.Samples == 0 {
		return b, err
	}
	lo, hi := info.FirstAt.UnixMilli(), info.LastAt.UnixMilli()+1
	if !from.IsZero() {
		lo = max(lo, ceilMs(from))
	}
	if !to.IsZero() {
		hi = min(hi, ceilMs(to))
	}
	query := `SELECT at, variable_no, value FROM reading
		WHERE batch_id = $1 AND at >= $2 AND at < $3
		  AND station_no = (SELECT station_no FROM batch WHERE id = $1) ORDER BY at`
	if info.Kind == weather.Forecast {
		query = "SELECT at, variable_no, value FROM forecast WHERE batch_id = $1 AND at >= $2 AND at < $3 ORDER BY at"
	}
	b.Data.Samples, err = s.samples(ctx, tx, query, info.ID, lo, hi)
	return b, err
}

func (s *Store) samples(ctx context.Context, tx *sql.Tx, query string, args ...any) ([]weather.Sample, error) {
	rows, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []weather.Sample
	for rows.Next() {
		var at, no int64
		var x weather.Sample
		if err := rows.Scan(&at, &no, &x.Value); err != nil {
			return nil, err
		}
		v, known := s.varFrom[no]
		if !known {
			return nil, &store.NewerError{Path: s.path, What: fmt.Sprintf("variable %d", no)}
		}
		x.At, x.Var = fromMs(&at), v
		out = append(out, x)
	}
	store.SortSamples(out)
	return out, rows.Err()
}

func refusals(ctx context.Context, tx *sql.Tx, batchID int64) ([]weather.Refusal, error) {
	rows, err := tx.QueryContext(ctx, "SELECT origin, line, field, value, why FROM refusal WHERE batch_id = $1 ORDER BY pos", batchID)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []weather.Refusal
	for rows.Next() {
		var r weather.Refusal
		if err := rows.Scan(&r.Origin, &r.Line, &r.Field, &r.Value, &r.Why); err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, rows.Err()
}
