// Written by "go generate ./api" from the OpenAPI document of the program. Do not
// change it by hand: a test compares it with what the program would write.

export interface Alternative {
  /** surface by strip, such as {"middle": "cover 12in"}; after a comma its moisture: "bare firm, moist"; the name "" = every strip */
  floor?: Record<string, string>;
  label: string;
  /** this much as if at once at refill_start_at instead */
  refill_mm?: number | null;
  /** the block's own system runs from here */
  refill_start_at?: string | null;
  /** to here; otherwise until the floor is refilled or the evening comes */
  refill_stop_at?: string | null;
  /** what runs in the night */
  run?: "nothing" | "run water tonight" | "over-vine sprinklers" | "fan" | "heaters";
  /** application rate instead of the block's */
  run_mm_h?: number | null;
}

export interface Block {
  area_ha: number;
  cold_spot_k: number;
  cordon_height_m: number;
  critical_table: string;
  crop_t_ha: number;
  cultivar: string;
  elevation_m: number;
  fetch_m: number;
  id: string;
  lat_deg: number;
  lon_deg: number;
  name: string;
  nodes_kept: number;
  offset_k: number;
  offset_known: boolean;
  polygon?: number[][];
  price_per_t: number;
  protection: string[];
  pruning: "spur" | "cane" | "minimal";
  row_spacing_m: number;
  secondary_share: number;
  soil: Soil;
  species: "vinifera" | "labrusca" | "hybrid";
  station_id: string;
  strips: Strip[];
  system: System;
  tertiary_share: number;
  use: "wine" | "table" | "raisin" | "juice";
  vine_spacing_m: number;
}

export interface BlockAnswer {
  area_ha: number;
  block_id: string;
  choices: Choice[];
  cultivar: string;
  floor: StripState[];
  floor_work: Verdict[];
  learned: Learned | null;
  name: string;
  nights: BlockNight[];
  notes: Note[];
  reason: string;
  settle?: string;
  stage: StageState;
  starts: StartCurve[];
  station_id: string;
  table: TableState;
  unknown?: string;
  urgency: "act" | "watch" | "prepare" | "quiet" | "unknown";
}

export interface BlockNight {
  below_h: number;
  bud_k: number;
  cold_spot_p50_c: number | null;
  covered: boolean;
  critical_t10_c: number | null;
  critical_t50_c: number | null;
  floor_gain: Worth;
  height_k: number;
  label: string;
  margin_k: number | null;
  min: Quantiles | null;
  min_at: string | null;
  offset_k: number;
  outside?: Note[];
  risk: Risk | null;
  spread_k: number;
  why?: string;
}

export interface Choice {
  ahead: boolean;
  avoided_money: number;
  cautions?: string[];
  chosen: boolean;
  conditions?: string[];
  cost_money: number;
  for_night: number;
  gain: Worth;
  kind: "nothing" | "run water tonight" | "wet the floor" | "mow" | "over-vine sprinklers" | "fan" | "heaters";
  label: string;
  net_money: number;
  open: boolean;
  risk: Risk;
  saved_share: number;
  start_air_c?: number;
  start_at: string | null;
  stop_at: string | null;
  stop_rule?: string;
  water_m3: number;
  water_mm: number;
  why_not?: string;
}

export interface Compared {
  choice: Choice;
  label: string;
  night: BlockNight;
}

export interface Course {
  block_id: string;
  critical_t10_c: number | null;
  critical_t50_c: number | null;
  hours: CourseHour[];
  label: string;
  night: number;
  notes: Note[];
  observed: CoursePoint[];
  sunrise_at: string;
  sunset_at: string;
}

export interface CourseHour {
  at: string;
  p10_c: number;
  p50_c: number;
  p90_c: number;
}

export interface CoursePoint {
  air_c: number;
  at: string;
}

export interface Coverage {
  covered: boolean;
  hours: number;
  missing: number;
  why?: string;
}

export interface Default {
  field: string;
  value: string;
  where: string;
  why: string;
}

export interface Equipment {
  area_ha: number;
  cost_per_h: number;
  count: number;
  id: string;
  kind: "fan" | "heaters";
  name: string;
  power_kw: number;
}

export interface ErrorDetail {
  /** Where the error occurred, e.g. 'body.items[3].tags' or 'path.thing-id' */
  location?: string;
  /** Error message text */
  message?: string;
  /** The value at the given location */
  value?: unknown;
}

export interface ErrorModel {
  /** A human-readable explanation specific to this occurrence of the problem. */
  detail?: string;
  /** Optional list of individual error details */
  errors?: ErrorDetail[];
  /** A URI reference that identifies the specific occurrence of the problem. */
  instance?: string;
  /** HTTP status code */
  status?: number;
  /** A short, human-readable summary of the problem type. This value should not change between occurrences of the error. */
  title?: string;
  /** A URI reference to human-readable documentation for the error. */
  type?: string;
}

export interface FarmState {
  /** the present moment */
  at: string;
  blocks: Block[];
  currency: string;
  defaults?: Default[];
  elevation_m: number;
  equipment: Equipment[];
  hands_tonight: number;
  id: string;
  labour_per_h: number;
  lat_deg: number;
  lon_deg: number;
  name: string;
  people: Person[];
  /** what a check of the farm finds */
  problems: Problem[];
  /** number of the save; give it back with a change to have it refused if somebody was faster */
  revision: number;
  sources: Source[];
  stations: Station[];
  worst_loss_share: number;
  zone: string;
}

export interface Feed {
  /** forecasts: since they were issued; readings: since the last one */
  age_h: number;
  fed_at: string;
  /** of the values */
  first_at: string | null;
  /** values the source marks as missing */
  gaps: number;
  id: number;
  /** null for readings */
  issued_at: string | null;
  kind: "forecast" | "reading";
  last_at: string | null;
  /** what was taken for granted */
  notes: string[];
  /** file or address */
  origin: string;
  /** the first of them, with reasons */
  refusals: Refusal[];
  /** items that were not taken, all of them */
  refused: number;
  samples: number;
  station_id: string;
  /** null while it counts */
  withdrawn_at: string | null;
  withdrawn_why: string;
}

export interface FeedList {
  at: string;
  /** the latest first */
  feeds: Feed[];
  /** there are older ones: ask for those before the last id */
  more: boolean;
  pollers: Poller[];
  /** past forecasts against what was measured */
  skill: Skill[];
  stations: Freshness[];
}

export interface Flag {
  code: string;
  text: string;
}

export interface FloorBody {
  /** since when; otherwise now */
  at?: string | null;
  by?: string;
  /** of the farm the change is made on; refused if it has changed since */
  revision?: number;
  strips: StripChange[];
  why?: string;
}

export interface FloorState {
  /** what was taken for granted, in sentences */
  assumed: string[];
  at: string;
  block_id: string;
  revision: number;
  strips: Strip[];
}

export interface Freshness {
  forecast: "fresh" | "stale" | "none";
  forecast_age_h: number | null;
  /** last hour forecast */
  forecast_to_at: string | null;
  /** of the latest forecast; null without one */
  issued_at: string | null;
  name: string;
  readings: "fresh" | "stale" | "none";
  readings_age_h: number | null;
  /** last reading; null without one */
  readings_to_at: string | null;
  station_id: string;
  /** a block takes its weather from here */
  used: boolean;
}

export interface Health {
  at: string;
  blocks: number;
  farm_id: string;
  farm_name: string;
  /** what needs attention, in sentences */
  notes: string[];
  pollers: Poller[];
  revision: number;
  started_at: string;
  stations: Freshness[];
  /** attention: a feed that blocks rely on is stale or failing */
  status: "ok" | "attention";
  version: string;
}

export interface Kind {
  /** what to do about it */
  means: string;
  name: string;
  status: number;
  title: string;
}

export interface Learned {
  gap_nights: number;
  mild_nights: number;
  mixing: MixingState;
  moved_k: number;
  offset: Offset;
  paired_nights: number;
  prior_k: number;
  prior_spread_k: number;
  spread_before_k: number;
  text: string[];
  thermometers: string[];
}

export interface MixingState {
  k0_w_m2k: number;
  prior_only: boolean;
  source: string;
}

export interface Mixture {
  at: string | null;
  by: string;
  counted: number;
  flags?: Flag[];
  seen_at: string | null;
  shares: Share[];
  source: "counted" | "judged" | "advanced" | "";
}

export interface Moisture {
  at: string | null;
  source: "reading" | "hand-feel" | "assumed";
  spread_m3_m3: number;
  value_m3_m3: number;
}

export interface Night {
  begun: boolean;
  end_at: string;
  label: string;
  sunrise_at: string;
  sunset_at: string;
}

export interface Note {
  code: string;
  text: string;
}

export interface Offset {
  mean_k: number;
  nights: number;
  spread_k: number;
  stated: boolean;
}

export interface Person {
  id: string;
  mail: string;
  name: string;
  night: boolean;
  phone: string;
  units: string;
}

export interface Poller {
  /** tries in a row that failed */
  failures: number;
  kind: "forecast" | "reading" | "warning";
  /** null when none is planned */
  next_at: string | null;
  /** why the last try failed; empty otherwise */
  problem: string;
  state: "waiting" | "fetching" | "failing" | "stopped";
  station_id: string;
  /** last time something new was taken; null before the first */
  taken_at: string | null;
  /** last try; null before the first */
  tried_at: string | null;
  url: string;
}

export interface Problem {
  field: string;
  file?: string;
  line?: number;
  means?: string;
  severity: "error" | "warning";
  value: string;
  want: string;
  where: string;
}

export interface Pushed {
  /** what was kept, one for each station */
  feeds: Feed[];
  /** the first of them, with reasons; line is the place of the row, from 1 */
  refusals: Refusal[];
  /** items that were not taken, all of them */
  refused: number;
  /** stations whose values were here already: nothing was added, so a push may be sent again */
  repeated: string[];
  /** rows in the body */
  rows: number;
  /** rows of which at least one value was read */
  taken: number;
}

export interface Quantiles {
  p10_c: number;
  p50_c: number;
  p90_c: number;
}

export interface Refusal {
  field: string;
  line: number;
  origin: string;
  value: string;
  why: string;
}

export interface Risk {
  kill_share: number;
  loss_high_share: number;
  loss_low_share: number;
  loss_money: number;
  loss_share: number;
  loss_t: number;
  probability: number;
}

export interface Share {
  share: number;
  stage: Stage;
  step: number;
}

export interface Shared {
  have: string;
  left_out: string[];
  need: string;
  text: string;
  what: string;
}

export interface Skill {
  /** forecast less measured night minimum; above zero = forecast too warm */
  bias_k: number;
  /** whole days from issue to the minimum */
  lead_days: number;
  mae_k: number;
  nights: number;
  rmse_k: number;
  station_id: string;
}

export interface Soil {
  field_capacity: number;
  ks_mm_h: number;
  porosity: number;
  quartz: number;
  texture: string;
  wilting_point: number;
}

export interface Source {
  cost_per_m3: number;
  flow_lps: number;
  frost_use: boolean;
  frost_use_stated: boolean;
  id: string;
  name: string;
  water_temp_c: number;
}

export interface Stage {
  code: number;
  scale: "el" | "el1977" | "bbch";
}

export interface StageBody {
  /** when it was seen; otherwise now */
  at?: string | null;
  by?: string;
  /** shoots counted in a walk */
  counts?: StageCount[];
  note?: string;
  /** judged by eye; they add up to 1 */
  shares?: StageShare[];
}

export interface StageCount {
  shoots: number;
  /** as in shares */
  stage: string;
}

export interface StageLook {
  at: string;
  block_id: string;
  by: string;
  id: number;
  mixture: Mixture;
  note: string;
  text: string;
  /** counted in a walk, or judged by eye */
  unit: "shoots" | "shares";
  /** null while it counts */
  withdrawn_at: string | null;
  withdrawn_why: string;
}

export interface StageShare {
  share: number;
  /** with its scale, "EL 4" or "BBCH 09", or in words: "woolly", "bud burst", "first leaf" */
  stage: string;
}

export interface StageState {
  mixture: Mixture;
  text: string;
  tonight: Mixture;
}

export interface StartCurve {
  label: string;
  night: number;
  points: StartPoint[];
  spread_k: number;
  text: string;
}

export interface StartPoint {
  all_night: boolean;
  best: boolean;
  finish_at: string;
  gain: Worth;
  label: string;
  lead_h: number;
  start_at: string;
  start_h: number;
  water_mm: number;
  wet_share: number;
}

export interface Station {
  block_id: string;
  elevation_m: number;
  id: string;
  lat_deg: number;
  lon_deg: number;
  name: string;
  sensor_height_m: number;
  shelter: "aspirated" | "screen" | "open";
  soil: Soil;
  surroundings: Strip;
  wind_height_m: number;
}

export interface StationState {
  coverage: Coverage[];
  forecast_from: string;
  issued_at: string | null;
  learned_nights: number;
  low_so_far_at: string | null;
  low_so_far_c: number | null;
  name: string;
  notes: Note[];
  reading_hours: number;
  readings_to_at: string | null;
  station_id: string;
}

export interface Strip {
  depth_m: number;
  height_m: number;
  moisture: Moisture;
  name: string;
  share: number;
  surface: "bare firm" | "disked" | "cover" | "residue";
}

export interface StripChange {
  /** "dry", "slightly moist", "moist", "wet", "field capacity", or with its unit: "18%" */
  moisture?: string | null;
  /** strip; "" = every strip */
  name: string;
  /** "bare firm", "disked 4in", "mown", "cover 12in", "shredded 1in" */
  surface?: string | null;
}

export interface StripState {
  field_capacity_m3_m3: number;
  moisture_m3_m3: number;
  moisture_source: string;
  name: string;
  refill_mm: number;
  share: number;
  surface: string;
}

export interface System {
  advance_h: number;
  buried_m: number;
  emitter_across_m: number;
  emitter_along_m: number;
  emitter_lph: number;
  energy_cost_per_h: number;
  kind: "" | "drip" | "micro-sprinkler" | "furrow" | "flood" | "over-vine sprinkler";
  line_fill_h: number;
  rate_mm_h: number;
  source_id: string;
  uniformity: number;
  wet_share: number;
  wets_strip: string;
}

export interface TableState {
  basis: string;
  name: string;
  source: string;
}

export interface Taken {
  /** what was taken for granted, in sentences */
  assumed: string[];
  feed: Feed;
  /** values that cannot be true and were not taken, and why, in sentences */
  screened: string[];
}

export interface Tonight {
  /** since the moment it was worked out for */
  age_h: number;
  at: string;
  blocks: BlockAnswer[];
  currency: string;
  /** false: something was fed, seen or changed since, or the moment is long past; a new answer is being worked out */
  current: boolean;
  farm_id: string;
  farm_name: string;
  members: number;
  nights: Night[];
  notes: Note[];
  seed: number;
  shared: Shared[];
  stations: StationState[];
  /** of the sentences */
  units: "us" | "metric";
  zone: string;
}

export interface Verdict {
  ok: boolean;
  text: string;
  until_at: string | null;
  work: string;
  worth_k: number;
}

export interface WhatIf {
  alternatives: Alternative[];
  /** 0 = the coming night */
  night?: number;
}

export interface Withdraw {
  why: string;
}

export interface Worth {
  central_k: number;
  high_k: number;
  low_k: number;
}

/** Problem is an answer that says why there is none. */
export class Problem extends Error {
  readonly status: number;
  /** As the program sent it; null when what came was no problem document. */
  readonly document: ErrorModel | null;
  /** Seconds after which to try again, where the program says so. */
  readonly retryAfter: number | null;

  constructor(response: Response, document: ErrorModel | null) {
    super(document?.detail ?? document?.title ?? `HTTP ${response.status}`);
    this.name = 'Problem';
    this.status = response.status;
    this.document = document;
    const wait = Number(response.headers.get('Retry-After') ?? NaN);
    this.retryAfter = Number.isFinite(wait) ? wait : null;
  }

  /** The last part of the problem's type, such as "not-found". */
  get kind(): string {
    return this.document?.type?.split('#')[1] ?? '';
  }

  /** What is wrong with one part of the request, such as "body.strips[0].surface". */
  about(location: string): string | undefined {
    return this.document?.errors?.find((e) => e.location === location)?.message;
  }
}

type Value = string | number | boolean | null | undefined;

function address(base: string, path: string, query: Record<string, Value>): string {
  const q = new URLSearchParams();
  for (const [name, value] of Object.entries(query)) {
    if (value !== undefined && value !== null) q.set(name, String(value));
  }
  const text = q.toString();
  return base + path + (text === '' ? '' : '?' + text);
}

async function problem(response: Response): Promise<Problem> {
  let document: ErrorModel | null = null;
  if (response.headers.get('Content-Type')?.startsWith('application/problem+json')) {
    document = (await response.json().catch(() => null)) as ErrorModel | null;
  }
  return new Problem(response, document);
}

export interface Settings {
  /** Put before every path; '' = the page's own server. */
  base?: string;
  fetch?: typeof fetch;
}

/** client asks the program. Every call throws a Problem when the program says no,
 * and what fetch throws when it cannot be reached. */
export function client(settings: Settings = {}) {
  const base = settings.base ?? '';
  const call = settings.fetch ?? ((input: RequestInfo | URL, init?: RequestInit) => fetch(input, init));

  async function ask<T>(method: string, path: string, query: Record<string, Value>, body: BodyInit | null, type: string | null, init?: RequestInit): Promise<T> {
    const headers = new Headers(init?.headers);
    headers.set('Accept', 'application/json');
    if (type !== null) headers.set('Content-Type', type);
    const response = await call(address(base, path, query), { ...init, method, headers, body });
    if (!response.ok) throw await problem(response);
    return (response.status === 204 ? undefined : await response.json()) as T;
  }

  return {
    /** One night of one block hour by hour */
    course: (of: { id: string; night?: number }, init?: RequestInit): Promise<Course> =>
      ask('GET', `/api/v1/blocks/${encodeURIComponent(of.id)}/course`, { night: of.night }, null, null, init),
    /** Keep a block's floor as it is now */
    setFloor: (of: { id: string }, body: FloorBody, init?: RequestInit): Promise<FloorState> =>
      ask('PUT', `/api/v1/blocks/${encodeURIComponent(of.id)}/floor`, {}, JSON.stringify(body), 'application/json', init),
    /** The looks at a block, the latest last */
    stages: (of: { id: string; withdrawn?: boolean }, init?: RequestInit): Promise<StageLook[]> =>
      ask('GET', `/api/v1/blocks/${encodeURIComponent(of.id)}/stages`, { withdrawn: of.withdrawn }, null, null, init),
    /** Keep a look at a block */
    recordStage: (of: { id: string }, body: StageBody, init?: RequestInit): Promise<StageLook> =>
      ask('POST', `/api/v1/blocks/${encodeURIComponent(of.id)}/stages`, {}, JSON.stringify(body), 'application/json', init),
    /** Make a look at a block stop counting; it is kept */
    withdrawStage: (of: { id: string; sid: number; why: string }, init?: RequestInit): Promise<void> =>
      ask('DELETE', `/api/v1/blocks/${encodeURIComponent(of.id)}/stages/${encodeURIComponent(of.sid)}`, { why: of.why }, null, null, init),
    /** What choices are worth for one block on one night */
    whatIf: (of: { id: string; units?: "us" | "metric" }, body: WhatIf, init?: RequestInit): Promise<Compared[]> =>
      ask('POST', `/api/v1/blocks/${encodeURIComponent(of.id)}/whatif`, { units: of.units }, JSON.stringify(body), 'application/json', init),
    /** The farm as it is kept, with every value that was filled in */
    farm: (init?: RequestInit): Promise<FarmState> =>
      ask('GET', '/api/v1/farm', {}, null, null, init),
    /** What was fed, how fresh and how good it is, and what fetches it */
    feeds: (of: { station?: string; kind?: "forecast" | "reading"; before?: number; limit?: number } = {}, init?: RequestInit): Promise<FeedList> =>
      ask('GET', '/api/v1/feeds', { station: of.station, kind: of.kind, before: of.before, limit: of.limit }, null, null, init),
    /** Make what was fed stop counting; it is kept */
    withdrawFeed: (of: { id: number }, body: Withdraw, init?: RequestInit): Promise<Feed> =>
      ask('POST', `/api/v1/feeds/${encodeURIComponent(of.id)}/withdraw`, {}, JSON.stringify(body), 'application/json', init),
    /** Take in a forecast file */
    takeForecast: (of: { station?: string; name?: string; format?: "gridpoint" | "csv" | "hourly02"; issued?: string; zone?: string; map?: string; date_order?: "mdy" | "dmy"; decimal_comma?: boolean } = {}, body: BodyInit, init?: RequestInit): Promise<Taken> =>
      ask('POST', '/api/v1/forecasts', { station: of.station, name: of.name, format: of.format, issued: of.issued, zone: of.zone, map: of.map, date_order: of.date_order, decimal_comma: of.decimal_comma }, body, 'application/octet-stream', init),
    /** Whether the program has what it needs to answer */
    health: (init?: RequestInit): Promise<Health> =>
      ask('GET', '/api/v1/health', {}, null, null, init),
    /** The kinds of problems that errors are of */
    problems: (init?: RequestInit): Promise<Kind[]> =>
      ask('GET', '/api/v1/problems', {}, null, null, init),
    /** Take in readings as a logger sends them */
    pushReadings: (of: { from?: string } = {}, body: Record<string, unknown>[], init?: RequestInit): Promise<Pushed> =>
      ask('POST', '/api/v1/readings', { from: of.from }, JSON.stringify(body), 'application/json', init),
    /** Take in a file of readings */
    takeReadings: (of: { station?: string; name?: string; format?: "gridpoint" | "csv" | "hourly02"; issued?: string; zone?: string; map?: string; date_order?: "mdy" | "dmy"; decimal_comma?: boolean } = {}, body: BodyInit, init?: RequestInit): Promise<Taken> =>
      ask('POST', '/api/v1/readings/file', { station: of.station, name: of.name, format: of.format, issued: of.issued, zone: of.zone, map: of.map, date_order: of.date_order, decimal_comma: of.decimal_comma }, body, 'application/octet-stream', init),
    /** The nights ahead for every block, most worrying first */
    tonight: (of: { ahead?: number; units?: "us" | "metric"; wait?: boolean } = {}, init?: RequestInit): Promise<Tonight> =>
      ask('GET', '/api/v1/tonight', { ahead: of.ahead, units: of.units, wait: of.wait }, null, null, init),
  };
}

/** files are the addresses of what is for people and other programs, for links. */
export const files = {
  /** The blocks with their answer, for a map */
  sheetMap: (of: { units?: "us" | "metric" } = {}): string => address('', '/api/v1/sheet/blocks.geojson', { units: of.units }),
  /** The coming night on one printed page */
  sheetNight: (of: { units?: "us" | "metric" } = {}): string => address('', '/api/v1/sheet/night.html', { units: of.units }),
  /** What to do when, for a calendar */
  sheetCalendar: (of: { units?: "us" | "metric" } = {}): string => address('', '/api/v1/sheet/night.ics', { units: of.units }),
  /** The answer as a table */
  sheetTable: (of: { units?: "us" | "metric" } = {}): string => address('', '/api/v1/sheet/tonight.csv', { units: of.units }),
  /** The answer as a workbook */
  sheetWorkbook: (of: { units?: "us" | "metric" } = {}): string => address('', '/api/v1/sheet/tonight.xlsx', { units: of.units }),
};
