-- A farm file of schema 1 as SQL, with something in every table: an invented farm
-- with one block, two batches that count and one withdrawn. The tests open it, so
-- that a farm written today opens in every later program. Never edit it; a new
-- schema gets a dump of its own.
PRAGMA application_id = 1651860599;
BEGIN TRANSACTION;
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
INSERT INTO "batch" VALUES(1,1,'reading','logger.csv',NULL,1772377200000,'6b50b3f706f50afaddfd9466c2e632114439874dbf31229ab21235ff7099dbf5',3,1,1,1772366400000,1772370000000,'["a note"]',NULL,NULL,NULL);
INSERT INTO "batch" VALUES(2,1,'forecast','points.csv',1772366400000,1772370000000,'6a45653c0174cfca64b724596dbafc84fda9ac29278618cedc20dffdb1ca4a41',2,0,0,1772373600000,1772373600000,'[]',230.0,NULL,NULL);
INSERT INTO "batch" VALUES(3,1,'forecast','points.csv',1772344800000,1772370000000,'0eb8785af240d1a1793653e89402c5610c1d9efd96e242b1be215176180b47f8',2,0,0,1772373600000,1772373600000,'[]',230.0,1772384400000,'wrong point');
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
INSERT INTO "block" VALUES('B1',0,'{"id":"B1","name":"north","area_ha":1.5,"cultivar":"Riesling","species":"vinifera","use":"wine","pruning":"spur","nodes_kept":30,"cordon_height_m":1,"row_spacing_m":3,"vine_spacing_m":1.8,"fetch_m":0,"lat_deg":0,"lon_deg":0,"elevation_m":0,"cold_spot_k":0,"offset_k":0,"offset_known":false,"soil":{"texture":"clay loam","field_capacity":0,"wilting_point":0,"porosity":0,"quartz":0,"ks_mm_h":0},"strips":null,"system":{"kind":"drip","source_id":"W1","rate_mm_h":0.5,"wet_share":0,"emitter_lph":0,"emitter_along_m":0,"emitter_across_m":0,"buried_m":0,"wets_strip":"","line_fill_h":0,"advance_h":0,"uniformity":0,"energy_cost_per_h":0},"protection":["F1"],"station_id":"S1","crop_t_ha":0,"price_per_t":0,"critical_table":"","secondary_share":-1,"tertiary_share":-1}');
CREATE TABLE equipment (
    id TEXT PRIMARY KEY CHECK (id = json_extract(doc, '$.id')),
    pos INTEGER NOT NULL UNIQUE,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    name TEXT GENERATED ALWAYS AS (json_extract(doc, '$.name')) VIRTUAL,
    kind TEXT GENERATED ALWAYS AS (json_extract(doc, '$.kind')) VIRTUAL
) STRICT;
INSERT INTO "equipment" VALUES('F1',0,'{"id":"F1","name":"fan","kind":"fan","area_ha":4,"count":1,"power_kw":0,"cost_per_h":50}');
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
INSERT INTO "farm" VALUES(1,3,1773576000000,'Kim','mown','{"id":"dump","name":"Dump farm","zone":"Australia/Adelaide","lat_deg":-34.5,"lon_deg":138.9,"elevation_m":240,"currency":"AUD","worst_loss_share":0,"labour_per_h":0,"hands_tonight":0,"stations":null,"blocks":null,"sources":null,"equipment":null,"people":null}');
CREATE TABLE farm_default (
    pos INTEGER PRIMARY KEY,
    doc TEXT NOT NULL CHECK (json_valid(doc))
) STRICT;
INSERT INTO "farm_default" VALUES(0,'{"where":"block B1","field":"fetch_m","value":"150 m","why":"common practice"}');
CREATE TABLE fed_station (
    no INTEGER PRIMARY KEY,
    station_id TEXT NOT NULL UNIQUE
) STRICT;
INSERT INTO "fed_station" VALUES(1,'S1');
CREATE TABLE floor_record (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    block_id TEXT NOT NULL,
    changed_at INTEGER NOT NULL,
    who TEXT NOT NULL,
    why TEXT NOT NULL,
    strips TEXT NOT NULL CHECK (json_valid(strips))
) STRICT;
INSERT INTO "floor_record" VALUES(1,'B1',1772366400000,'Kim','first import','[{"name":"under-vine","share":0.4,"surface":"bare firm","height_m":0,"depth_m":0,"moisture":{"value_m3_m3":0.15,"spread_m3_m3":0.04,"source":"hand-feel","at":"2026-03-01T12:00:00Z"}},{"name":"middle","share":0.6,"surface":"cover","height_m":0.2,"depth_m":0,"moisture":{"value_m3_m3":0.15,"spread_m3_m3":0.04,"source":"hand-feel","at":"2026-03-01T12:00:00Z"}}]');
INSERT INTO "floor_record" VALUES(2,'B1',1772971200000,'Kim','mown','[{"name":"under-vine","share":0.4,"surface":"bare firm","height_m":0,"depth_m":0,"moisture":{"value_m3_m3":0.15,"spread_m3_m3":0.04,"source":"hand-feel","at":"2026-03-01T12:00:00Z"}},{"name":"middle","share":0.6,"surface":"cover","height_m":0.1,"depth_m":0,"moisture":{"value_m3_m3":0.15,"spread_m3_m3":0.04,"source":"hand-feel","at":"2026-03-01T12:00:00Z"}}]');
INSERT INTO "floor_record" VALUES(3,'B1',1773576000000,'Kim','mown','[{"name":"under-vine","share":0.4,"surface":"bare firm","height_m":0,"depth_m":0,"moisture":{"value_m3_m3":0.15,"spread_m3_m3":0.04,"source":"hand-feel","at":"2026-03-01T12:00:00Z"}},{"name":"middle","share":0.6,"surface":"cover","height_m":0.05,"depth_m":0,"moisture":{"value_m3_m3":0.15,"spread_m3_m3":0.04,"source":"hand-feel","at":"2026-03-01T12:00:00Z"}}]');
CREATE TABLE forecast (
    batch_id INTEGER NOT NULL REFERENCES batch (id),
    at INTEGER NOT NULL,
    variable_no INTEGER NOT NULL,
    value REAL NOT NULL,
    PRIMARY KEY (batch_id, at, variable_no)
) STRICT, WITHOUT ROWID;
INSERT INTO "forecast" VALUES(2,1772373600000,1,0.5);
INSERT INTO "forecast" VALUES(2,1772373600000,5,0.25);
INSERT INTO "forecast" VALUES(3,1772373600000,1,0.5);
INSERT INTO "forecast" VALUES(3,1772373600000,5,0.25);
CREATE TABLE goose_db_version (
		id INTEGER PRIMARY KEY AUTOINCREMENT,
		version_id INTEGER NOT NULL,
		is_applied INTEGER NOT NULL,
		tstamp TIMESTAMP DEFAULT (datetime('now'))
	);
INSERT INTO "goose_db_version" VALUES(1,0,1,'2026-03-01 12:00:00');
INSERT INTO "goose_db_version" VALUES(2,1,1,'2026-03-01 12:00:00');
CREATE TABLE person (
    id TEXT PRIMARY KEY CHECK (id = json_extract(doc, '$.id')),
    pos INTEGER NOT NULL UNIQUE,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    name TEXT GENERATED ALWAYS AS (json_extract(doc, '$.name')) VIRTUAL
) STRICT;
INSERT INTO "person" VALUES('p1',0,'{"id":"p1","name":"Kim","phone":"","mail":"","units":"metric","night":true}');
CREATE TABLE reading (
    station_no INTEGER NOT NULL,
    at INTEGER NOT NULL,
    variable_no INTEGER NOT NULL,
    batch_id INTEGER NOT NULL REFERENCES batch (id),
    value REAL NOT NULL,
    PRIMARY KEY (station_no, at, variable_no, batch_id)
) STRICT, WITHOUT ROWID;
INSERT INTO "reading" VALUES(1,1772366400000,1,1,3.25);
INSERT INTO "reading" VALUES(1,1772366400000,4,1,0.8);
INSERT INTO "reading" VALUES(1,1772370000000,1,1,1.75);
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
INSERT INTO "refusal" VALUES(1,0,'logger.csv',4,'air_temp_c','-99.9','outside the plausible range');
CREATE TABLE source (
    id TEXT PRIMARY KEY CHECK (id = json_extract(doc, '$.id')),
    pos INTEGER NOT NULL UNIQUE,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    name TEXT GENERATED ALWAYS AS (json_extract(doc, '$.name')) VIRTUAL,
    flow_lps REAL GENERATED ALWAYS AS (json_extract(doc, '$.flow_lps')) VIRTUAL
) STRICT;
INSERT INTO "source" VALUES('W1',0,'{"id":"W1","name":"dam","flow_lps":12,"water_temp_c":13,"cost_per_m3":0,"frost_use_stated":false,"frost_use":false}');
CREATE TABLE stage_count (
    record_id INTEGER NOT NULL REFERENCES stage_record (id),
    pos INTEGER NOT NULL,
    scale TEXT NOT NULL,
    code INTEGER NOT NULL,
    amount REAL NOT NULL CHECK (amount >= 0),
    PRIMARY KEY (record_id, pos),
    UNIQUE (record_id, scale, code)
) STRICT;
INSERT INTO "stage_count" VALUES(1,0,'el',4,20.0);
INSERT INTO "stage_count" VALUES(1,1,'el',3,30.0);
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
INSERT INTO "stage_record" VALUES(1,'B1',1772366400000,'Kim','shoots','',NULL,NULL);
CREATE TABLE station (
    id TEXT PRIMARY KEY CHECK (id = json_extract(doc, '$.id')),
    pos INTEGER NOT NULL UNIQUE,
    doc TEXT NOT NULL CHECK (json_valid(doc)),
    name TEXT GENERATED ALWAYS AS (json_extract(doc, '$.name')) VIRTUAL,
    elevation_m REAL GENERATED ALWAYS AS (json_extract(doc, '$.elevation_m')) VIRTUAL
) STRICT;
INSERT INTO "station" VALUES('S1',0,'{"id":"S1","name":"shed","lat_deg":-34.5,"lon_deg":138.9,"elevation_m":238,"sensor_height_m":1.5,"wind_height_m":2,"shelter":"screen","surroundings":{"name":"grass","share":1,"surface":"cover","height_m":0.1,"depth_m":0,"moisture":{"value_m3_m3":0.15,"spread_m3_m3":0.04,"source":"hand-feel","at":"2026-03-01T12:00:00Z"}},"soil":{"texture":"loam","field_capacity":0,"wilting_point":0,"porosity":0,"quartz":0,"ks_mm_h":0}}');
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
INSERT INTO "strip" VALUES('B1',0,'{"name":"under-vine","share":0.4,"surface":"bare firm","height_m":0,"depth_m":0,"moisture":{"value_m3_m3":0.15,"spread_m3_m3":0.04,"source":"hand-feel","at":"2026-03-01T12:00:00Z"}}');
INSERT INTO "strip" VALUES('B1',1,'{"name":"middle","share":0.6,"surface":"cover","height_m":0.05,"depth_m":0,"moisture":{"value_m3_m3":0.15,"spread_m3_m3":0.04,"source":"hand-feel","at":"2026-03-01T12:00:00Z"}}');
CREATE TABLE variable (
    no INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE
) STRICT;
INSERT INTO "variable" VALUES(1,'air_temp_c');
INSERT INTO "variable" VALUES(4,'wind_m_s');
INSERT INTO "variable" VALUES(5,'cloud_frac');
CREATE INDEX floor_record_by_block ON floor_record (block_id, changed_at);
CREATE INDEX stage_record_by_block ON stage_record (block_id, observed_at);
CREATE INDEX batch_by_station ON batch (station_no, kind, issued_at);
CREATE UNIQUE INDEX batch_once ON batch (digest) WHERE withdrawn_at IS NULL;
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('goose_db_version',2);
INSERT INTO "sqlite_sequence" VALUES('floor_record',3);
INSERT INTO "sqlite_sequence" VALUES('batch',3);
INSERT INTO "sqlite_sequence" VALUES('stage_record',1);
COMMIT;
