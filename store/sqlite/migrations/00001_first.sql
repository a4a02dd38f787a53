-- The first schema. Times are Unix milliseconds in UTC, columns ending in _at.
-- A noun of the farm is kept as one JSON document, because it is always read and
-- written whole and its fields are defined once, in package farm; what is looked
-- up or referred to is a generated column of the document, so the two can never
-- differ. Weather is kept in plain columns: there is much of it.

-- +goose Up
CREATE TABLE farm (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    revision INTEGER NOT NULL CHECK (revision > 0),
    saved_at INTEGER NOT NULL,
    saved_by TEXT NOT NULL,
    saved_why TEXT NOT NULL,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    id TEXT NOT NULL GENERATED ALWAYS AS (json_extract(doc, '$.id')) VIRTUAL,
    name TEXT GENERATED ALWAYS AS (json_extract(doc, '$.name')) VIRTUAL,
    zone TEXT NOT NULL GENERATED ALWAYS AS (json_extract(doc, '$.zone')) VIRTUAL
) STRICT;

CREATE TABLE farm_default (
    pos INTEGER PRIMARY KEY,
    doc TEXT NOT NULL CHECK (json_valid(doc))
) STRICT;

CREATE TABLE station (
    id TEXT PRIMARY KEY CHECK (id = json_extract(doc, '$.id')),
    pos INTEGER NOT NULL UNIQUE,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    name TEXT GENERATED ALWAYS AS (json_extract(doc, '$.name')) VIRTUAL,
    elevation_m REAL GENERATED ALWAYS AS (json_extract(doc, '$.elevation_m')) VIRTUAL
) STRICT;

CREATE TABLE source (
    id TEXT PRIMARY KEY CHECK (id = json_extract(doc, '$.id')),
    pos INTEGER NOT NULL UNIQUE,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    name TEXT GENERATED ALWAYS AS (json_extract(doc, '$.name')) VIRTUAL,
    flow_lps REAL GENERATED ALWAYS AS (json_extract(doc, '$.flow_lps')) VIRTUAL
) STRICT;

CREATE TABLE equipment (
    id TEXT PRIMARY KEY CHECK (id = json_extract(doc, '$.id')),
    pos INTEGER NOT NULL UNIQUE,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    name TEXT GENERATED ALWAYS AS (json_extract(doc, '$.name')) VIRTUAL,
    kind TEXT GENERATED ALWAYS AS (json_extract(doc, '$.kind')) VIRTUAL
) STRICT;

CREATE TABLE person (
    id TEXT PRIMARY KEY CHECK (id = json_extract(doc, '$.id')),
    pos INTEGER NOT NULL UNIQUE,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    name TEXT GENERATED ALWAYS AS (json_extract(doc, '$.name')) VIRTUAL
) STRICT;

CREATE TABLE block (
    id TEXT PRIMARY KEY CHECK (id = json_extract(doc, '$.id')),
    pos INTEGER NOT NULL UNIQUE,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    name TEXT GENERATED ALWAYS AS (json_extract(doc, '$.name')) VIRTUAL,
    cultivar TEXT GENERATED ALWAYS AS (json_extract(doc, '$.cultivar')) VIRTUAL,
    area_ha REAL GENERATED ALWAYS AS (json_extract(doc, '$.area_ha')) VIRTUAL,
    station_id TEXT GENERATED ALWAYS AS (NULLIF(json_extract(doc, '$.station_id'), '')) VIRTUAL
        REFERENCES station (id),
    source_id TEXT GENERATED ALWAYS AS (NULLIF(json_extract(doc, '$.system.source_id'), '')) VIRTUAL
        REFERENCES source (id)
) STRICT;

-- A block's strips are apart from its document: they change when it does not.
CREATE TABLE strip (
    block_id TEXT NOT NULL REFERENCES block (id) ON DELETE CASCADE,
    pos INTEGER NOT NULL,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    name TEXT NOT NULL GENERATED ALWAYS AS (json_extract(doc, '$.name')) VIRTUAL,
    share REAL GENERATED ALWAYS AS (json_extract(doc, '$.share')) VIRTUAL,
    surface TEXT GENERATED ALWAYS AS (json_extract(doc, '$.surface')) VIRTUAL,
    moisture_m3_m3 REAL GENERATED ALWAYS AS (json_extract(doc, '$.moisture.value_m3_m3')) VIRTUAL,
    PRIMARY KEY (block_id, pos),
    UNIQUE (block_id, name)
) STRICT;

-- History outlives the nouns it is about, so these refer to no noun's table.
CREATE TABLE floor_record (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    block_id TEXT NOT NULL,
    changed_at INTEGER NOT NULL,
    who TEXT NOT NULL,
    why TEXT NOT NULL,
    strips TEXT NOT NULL CHECK (json_valid(strips))
) STRICT;
CREATE INDEX floor_record_by_block ON floor_record (block_id, changed_at);

CREATE TABLE stage_record (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    block_id TEXT NOT NULL,
    observed_at INTEGER NOT NULL,
    who TEXT NOT NULL,
    unit TEXT NOT NULL CHECK (unit IN ('shoots', 'shares')),
    note TEXT NOT NULL,
    withdrawn_at INTEGER,
    withdrawn_why TEXT,
    CHECK ((withdrawn_at IS NULL) = (withdrawn_why IS NULL))
) STRICT;
CREATE INDEX stage_record_by_block ON stage_record (block_id, observed_at);

CREATE TABLE stage_count (
    record_id INTEGER NOT NULL REFERENCES stage_record (id),
    pos INTEGER NOT NULL,
    scale TEXT NOT NULL,
    code INTEGER NOT NULL,
    amount REAL NOT NULL CHECK (amount >= 0),
    PRIMARY KEY (record_id, pos),
    UNIQUE (record_id, scale, code)
) STRICT;

-- Variables are kept by name with the unit in it; the number is this file's own.
CREATE TABLE variable (
    no INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE fed_station (
    no INTEGER PRIMARY KEY,
    station_id TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE batch (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    station_no INTEGER NOT NULL REFERENCES fed_station (no),
    kind TEXT NOT NULL CHECK (kind IN ('reading', 'forecast')),
    origin TEXT NOT NULL,
    issued_at INTEGER,
    fed_at INTEGER NOT NULL,
    digest TEXT NOT NULL,
    samples INTEGER NOT NULL,
    gaps INTEGER NOT NULL,
    refused INTEGER NOT NULL,
    first_at INTEGER,
    last_at INTEGER,
    notes TEXT NOT NULL CHECK (json_valid(notes)),
    elevation_m REAL,
    withdrawn_at INTEGER,
    withdrawn_why TEXT,
    CHECK ((kind = 'forecast') = (issued_at IS NOT NULL)),
    CHECK ((samples = 0) = (first_at IS NULL)),
    CHECK ((first_at IS NULL) = (last_at IS NULL)),
    CHECK ((withdrawn_at IS NULL) = (withdrawn_why IS NULL))
) STRICT;
CREATE INDEX batch_by_station ON batch (station_no, kind, issued_at);
CREATE UNIQUE INDEX batch_once ON batch (digest) WHERE withdrawn_at IS NULL;

CREATE TABLE refusal (
    batch_id INTEGER NOT NULL REFERENCES batch (id),
    pos INTEGER NOT NULL,
    origin TEXT NOT NULL,
    line INTEGER NOT NULL,
    field TEXT NOT NULL,
    value TEXT NOT NULL,
    why TEXT NOT NULL,
    PRIMARY KEY (batch_id, pos)
) STRICT, WITHOUT ROWID;

-- Readings are asked for by period across batches, forecasts one batch at a
-- time; each is kept in the order it is read in.
CREATE TABLE reading (
    station_no INTEGER NOT NULL,
    at INTEGER NOT NULL,
    variable_no INTEGER NOT NULL,
    batch_id INTEGER NOT NULL REFERENCES batch (id),
    value REAL NOT NULL,
    PRIMARY KEY (station_no, at, variable_no, batch_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE forecast (
    batch_id INTEGER NOT NULL REFERENCES batch (id),
    at INTEGER NOT NULL,
    variable_no INTEGER NOT NULL,
    value REAL NOT NULL,
    PRIMARY KEY (batch_id, at, variable_no)
) STRICT, WITHOUT ROWID;
