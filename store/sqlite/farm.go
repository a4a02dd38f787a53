package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"time"

	"budward/store"
	"budward/vineyard/farm"
)

// Farm returns the farm and its revision.
func (s *Store) Farm(ctx context.Context) (farm.Farm, store.Revision, error) {
	var f farm.Farm
	var rev store.Revision
	err := s.view(ctx, func(tx *sql.Tx) (err error) {
		f, rev, err = s.readFarm(ctx, tx)
		return err
	})
	if err != nil {
		return farm.Farm{}, 0, err
	}
	return f, rev, nil
}

func (s *Store) readFarm(ctx context.Context, tx *sql.Tx) (f farm.Farm, rev store.Revision, err error) {
	var doc string
	err = tx.QueryRowContext(ctx, "SELECT revision, doc FROM farm").Scan(&rev, &doc)
	if errors.Is(err, sql.ErrNoRows) {
		return f, 0, &store.NotFoundError{What: "farm"}
	}
	if err != nil {
		return f, 0, err
	}
	if err := s.decode("farm", doc, &f); err != nil {
		return f, 0, err
	}
	err = errors.Join(
		readNouns(ctx, s, tx, "station", &f.Stations),
		readNouns(ctx, s, tx, "source", &f.Sources),
		readNouns(ctx, s, tx, "equipment", &f.Equipment),
		readNouns(ctx, s, tx, "person", &f.People),
		readNouns(ctx, s, tx, "block", &f.Blocks),
		readNouns(ctx, s, tx, "farm_default", &f.Defaults),
		s.readStrips(ctx, tx, f.Blocks),
	)
	return f, rev, err
}

// readNouns reads the documents of a table in their order. The name of the table
// is one of this package's own.
func readNouns[T any](ctx context.Context, s *Store, tx *sql.Tx, table string, into *[]T) error {
	rows, err := tx.QueryContext(ctx, "SELECT doc FROM "+table+" ORDER BY pos")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var doc string
		if err := rows.Scan(&doc); err != nil {
			return err
		}
		var noun T
		if err := s.decode(table, doc, &noun); err != nil {
			return err
		}
		*into = append(*into, noun)
	}
	return rows.Err()
}

func (s *Store) readStrips(ctx context.Context, tx *sql.Tx, blocks []farm.Block) error {
	place := make(map[string]int, len(blocks))
	for i, b := range blocks {
		place[b.ID] = i
	}
	rows, err := tx.QueryContext(ctx, "SELECT block_id, doc FROM strip ORDER BY block_id, pos")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id, doc string
		if err := rows.Scan(&id, &doc); err != nil {
			return err
		}
		i, ok := place[id]
		if !ok {
			return &store.CorruptError{Path: s.path, Why: "a strip belongs to block " + id + ", which is not there"}
		}
		var strip farm.Strip
		if err := s.decode("strip", doc, &strip); err != nil {
			return err
		}
		blocks[i].Strips = append(blocks[i].Strips, strip)
	}
	return rows.Err()
}

// SaveFarm replaces the farm and records the floors that changed.
func (s *Store) SaveFarm(ctx context.Context, f farm.Farm, basedOn store.Revision, c store.Change) (store.Revision, error) {
	if err := store.CheckFarm(f); err != nil {
		return 0, err
	}
	if c.At.IsZero() {
		return 0, &store.InvalidError{Where: "change of farm " + f.ID, Field: "at", Value: "empty", Want: "a time"}
	}
	f = inUTC(f)
	err := s.update(ctx, func(tx *sql.Tx) error {
		was, rev, err := s.readFarm(ctx, tx)
		var none *store.NotFoundError
		if err != nil && !errors.As(err, &none) {
			return err
		}
		if rev != basedOn {
			return &store.ConflictError{What: "farm", ID: f.ID, Why: fmt.Sprintf(
				"it was saved meanwhile (revision %d, the change was made to revision %d)", rev, basedOn)}
		}
		if err := writeFarm(ctx, tx, f, rev+1, c); err != nil {
			return err
		}
		return recordFloors(ctx, tx, was.Blocks, f.Blocks, c)
	})
	if err != nil {
		return 0, err
	}
	return basedOn + 1, nil
}

// inUTC returns f with the times of its moisture in UTC, sharing no strip with f.
func inUTC(f farm.Farm) farm.Farm {
	f.Blocks = append([]farm.Block(nil), f.Blocks...)
	for i := range f.Blocks {
		strips := append([]farm.Strip(nil), f.Blocks[i].Strips...)
		for k := range strips {
			strips[k].Moisture.At = utc(strips[k].Moisture.At)
		}
		f.Blocks[i].Strips = strips
	}
	f.Stations = append([]farm.Station(nil), f.Stations...)
	for i := range f.Stations {
		m := &f.Stations[i].Surroundings.Moisture
		m.At = utc(m.At)
	}
	return f
}

// utc keeps the zero time as it is and cuts others to the millisecond.
func utc(t time.Time) time.Time {
	if t.IsZero() {
		return time.Time{}
	}
	return time.UnixMilli(t.UnixMilli()).UTC()
}

func writeFarm(ctx context.Context, tx *sql.Tx, f farm.Farm, rev store.Revision, c store.Change) error {
	// Blocks before what they refer to; strips go with their blocks.
	for _, table := range []string{"block", "station", "source", "equipment", "person", "farm_default", "farm"} {
		if _, err := tx.ExecContext(ctx, "DELETE FROM "+table); err != nil {
			return err
		}
	}
	head := f
	head.Stations, head.Blocks, head.Sources, head.Equipment, head.People, head.Defaults = nil, nil, nil, nil, nil, nil
	_, err := tx.ExecContext(ctx,
		"INSERT INTO farm (one, revision, saved_at, saved_by, saved_why, doc) VALUES (1, $1, $2, $3, $4, $5)",
		rev, c.At.UnixMilli(), c.Who, c.Why, encode(head))
	if err != nil {
		return err
	}
	bare := make([]farm.Block, len(f.Blocks))
	for i, b := range f.Blocks {
		bare[i] = b
		bare[i].Strips = nil
	}
	err = errors.Join(
		writeNouns(ctx, tx, "station", f.Stations, func(x farm.Station) string { return x.ID }),
		writeNouns(ctx, tx, "source", f.Sources, func(x farm.Source) string { return x.ID }),
		writeNouns(ctx, tx, "equipment", f.Equipment, func(x farm.Equipment) string { return x.ID }),
		writeNouns(ctx, tx, "person", f.People, func(x farm.Person) string { return x.ID }),
		writeNouns(ctx, tx, "block", bare, func(x farm.Block) string { return x.ID }),
	)
	if err != nil {
		return err
	}
	for i, d := range f.Defaults {
		if _, err := tx.ExecContext(ctx, "INSERT INTO farm_default (pos, doc) VALUES ($1, $2)", i, encode(d)); err != nil {
			return err
		}
	}
	for _, b := range f.Blocks {
		for i, strip := range b.Strips {
			_, err := tx.ExecContext(ctx, "INSERT INTO strip (block_id, pos, doc) VALUES ($1, $2, $3)", b.ID, i, encode(strip))
			if err != nil {
				return err
			}
		}
	}
	return nil
}

func writeNouns[T any](ctx context.Context, tx *sql.Tx, table string, list []T, id func(T) string) error {
	for i, x := range list {
		_, err := tx.ExecContext(ctx, "INSERT INTO "+table+" (id, pos, doc) VALUES ($1, $2, $3)", id(x), i, encode(x))
		if err != nil {
			return err
		}
	}
	return nil
}

func recordFloors(ctx context.Context, tx *sql.Tx, was, now []farm.Block, c store.Change) error {
	old := make(map[string][]farm.Strip, len(was))
	for _, b := range was {
		old[b.ID] = b.Strips
	}
	add := func(blockID string, strips []farm.Strip) error {
		_, err := tx.ExecContext(ctx,
			"INSERT INTO floor_record (block_id, changed_at, who, why, strips) VALUES ($1, $2, $3, $4, $5)",
			blockID, c.At.UnixMilli(), c.Who, c.Why, encode(strips))
		return err
	}
	for _, b := range now {
		before := old[b.ID]
		delete(old, b.ID)
		if sameStrips(before, b.Strips) {
			continue
		}
		if err := add(b.ID, b.Strips); err != nil {
			return err
		}
	}
	for _, b := range was { // in their order, not the map's
		if len(old[b.ID]) > 0 {
			if err := add(b.ID, nil); err != nil {
				return err
			}
		}
	}
	return nil
}

func sameStrips(a, b []farm.Strip) bool {
	return len(a) == len(b) && (len(a) == 0 || reflect.DeepEqual(a, b))
}

const floorColumns = "SELECT id, block_id, changed_at, who, why, strips FROM floor_record"

// Floors lists the floor records of a block, or of all.
func (s *Store) Floors(ctx context.Context, blockID string) ([]store.FloorRecord, error) {
	return s.floors(ctx, floorColumns+" WHERE block_id = $1 OR $1 = '' ORDER BY changed_at, id", blockID)
}

// FloorAt returns the last floor record of a block that is not after at.
func (s *Store) FloorAt(ctx context.Context, blockID string, at time.Time) (store.FloorRecord, error) {
	list, err := s.floors(ctx, floorColumns+
		" WHERE block_id = $1 AND changed_at <= $2 ORDER BY changed_at DESC, id DESC LIMIT 1", blockID, at.UnixMilli())
	if err != nil {
		return store.FloorRecord{}, err
	}
	if len(list) == 0 {
		return store.FloorRecord{}, &store.NotFoundError{What: "floor by " + at.UTC().Format(time.RFC3339) + " of block", ID: blockID}
	}
	return list[0], nil
}

func (s *Store) floors(ctx context.Context, query string, args ...any) ([]store.FloorRecord, error) {
	var out []store.FloorRecord
	err := s.view(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, query, args...)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var r store.FloorRecord
			var at int64
			var strips string
			if err := rows.Scan(&r.ID, &r.BlockID, &at, &r.Who, &r.Why, &strips); err != nil {
				return err
			}
			r.At = fromMs(&at)
			if err := s.decode("floor record", strips, &r.Strips); err != nil {
				return err
			}
			if len(r.Strips) == 0 {
				r.Strips = nil
			}
			out = append(out, r)
		}
		return rows.Err()
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// requireNoun reports that a station or block is not the farm's.
func requireNoun(ctx context.Context, tx *sql.Tx, table, id string) error {
	var n int
	if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM "+table+" WHERE id = $1", id).Scan(&n); err != nil {
		return err
	}
	if n == 0 {
		return &store.NotFoundError{What: table, ID: id}
	}
	return nil
}

func idText(id int64) string { return strconv.FormatInt(id, 10) }
