/** Shapes shared by the modules of the field page. The day's members are named as in the Python fold. */

export interface EntryProblem {
  field: string;
  found: string;
  wanted: string;
}

/** One act in the field, as recorded; see lapel.fieldlog.entries. */
export interface Entry {
  id: string;
  kind: string;
  at: string;
  device: string;
  sequence: number;
  author: string;
  fields: Record<string, string>;
  corrects?: string;
  reason?: string;
  received_at?: string;
  previous_hash?: string;
  hash?: string;
}

export interface FieldSpec {
  name: string;
  type: string;
  words: string;
  needed: boolean;
  choices: string[];
  unit_in: string;
  unit_kind: string | null;
  above: number | null;
  least: number | null;
  most: number | null;
}

export interface KindSpec {
  kind: string;
  words: string;
  rank: number;
  fields: Record<string, FieldSpec>;
  one_of: string[][];
}

// ---------------------------------------------------------------- the day (lapel.fieldlog.state)

export interface FlowReading {
  entry_id: string;
  at: string;
  train: string;
  port: string;
  phase: string;
  meter: string;
  reading: string;
  unit: string;
  volume: string;
  volume_unit: string;
  seconds: string;
  basis: string;
  temperature: string;
  temperature_unit: string;
  pressure: string;
  pressure_unit: string;
  humidity_percent: string;
  author: string;
}

export interface FlowRound {
  phase: 'closing' | 'post';
  port: string;
  at: string;
  readings: FlowReading[];
  declared: boolean;
  entry_id: string;
  valve_touched: boolean | null;
  recharged: boolean | null;
  battery_changed: boolean | null;
  same_tubes: boolean | null;
}

export interface TrainRound {
  phase: 'closing' | 'post';
  at: string;
  entry_id: string;
  ports: Record<string, FlowRound>;
  ports_without_reading: string[];
  valve_touched: boolean | null;
  recharged: boolean | null;
  battery_changed: boolean | null;
  same_tubes: boolean | null;
}

export interface PortPrepared {
  entry_id: string;
  at: string;
  port: string;
  tube: string;
  medium: string;
  lot: string;
  target: string;
  target_unit: string;
}

/** What the kit sheet of whoever supplied the pumps says of a port; `supplier` is their own reading, never ours. */
export interface PortSupplied {
  entry_id: string;
  at: string;
  port: string;
  pump: string;
  medium: string;
  catalogue: string;
  lot: string;
  intended: string;
  intended_unit: string;
  supplier: string;
  supplier_unit: string;
  how: string;
}

export interface LeakCheck {
  entry_id: string;
  at: string;
  port: string;
  passed: boolean;
}

export interface PumpCheck {
  entry_id: string;
  at: string;
  running: boolean;
  counter_min: number | null;
  display: string;
  display_unit: string;
  remark: string;
}

export interface Hung {
  entry_id: string;
  at: string;
  worker: string;
  side: string;
  zone: string;
}

export interface PumpRun {
  start: string;
  stop: string | null;
  clock_min: number | null;
  counter_min: number | null;
}

export interface Preparation {
  train: string;
  number: number;
  entry_id: string;
  at: string | null;
  pump: string;
  splitter: string;
  warm_up_min: number | null;
  charged_at: string | null;
  battery: string;
  place: string;
  ports: Record<string, PortPrepared>;
  leak_checks: LeakCheck[];
  closing_rounds: TrainRound[];
  post_rounds: TrainRound[];
  hung: Hung[];
  checks: PumpCheck[];
  pump_runs: PumpRun[];
  readings: FlowReading[];
  kit: Record<string, PortSupplied>;
}

export interface Train {
  code: string;
  preparations: Preparation[];
  kit_ahead: Record<string, PortSupplied>;
}

export interface Segment {
  train: string;
  port: string;
  preparation: number;
  pump: string;
  start: string;
  stop: string | null;
  minutes: number | null;
  ended_by: string;
  stop_from_counter: boolean;
  not_after: string | null;
  before: FlowRound | null;
  after: FlowRound | null;
  before_lost: string;
  after_lost: string;
  neighbour_touches: number;
  checks: FlowReading[];
  start_entry: string;
  stop_entry: string;
}

export interface Conflict {
  about: string;
  entry_ids: string[];
  words: string;
  train: string;
  port: string;
  samplers: string[];
}

export type Remark = Conflict;

export interface SampleRun {
  sampler: string;
  train: string;
  port: string;
  preparation: number;
  pump: string;
  splitter: string;
  worker: string;
  workers: string[];
  medium: string;
  lot: string;
  expiry: string;
  how: string;
  fitted_at: string | null;
  removed_at: string | null;
  segments: Segment[];
  stray_segments: Segment[];
  checks: PumpCheck[];
  faults: number;
  restarts: number;
  held_min: number;
  clock_min: number | null;
  counter_min: number | null;
  pump_clock_min: number | null;
  pump_counter_min: number | null;
  touched_in_run: boolean;
  missing: string[];
  conflicts: Conflict[];
  remarks: Remark[];
  parcel: string;
  entry_ids: string[];
}

export interface BlankRun {
  blank: string;
  use: string;
  medium: string;
  lot: string;
  place: string;
  opened_at: string | null;
  closed_at: string | null;
  open_min: number | null;
  conflicts: Conflict[];
  parcel: string;
  entry_ids: string[];
}

export interface CustodyHop {
  entry_id: string;
  at: string;
  giver: string;
  receiver: string;
  seal_intact: boolean | null;
  temperature: string;
  temperature_unit: string;
}

export interface CustodyGap {
  after: string;
  until: string;
  hours: number;
  last_holder: string;
  next_giver: string;
}

export interface Parcel {
  code: string;
  samplers: string[];
  seal: string;
  sealed_at: string | null;
  sealed_by: string;
  temperature: string;
  temperature_unit: string;
  hops: CustodyHop[];
  gaps: CustodyGap[];
  seal_broken: boolean | null;
  conflicts: Conflict[];
}

export interface Conditions {
  entry_id: string;
  at: string;
  place: string;
  temperature: string;
  temperature_unit: string;
  pressure: string;
  pressure_unit: string;
  humidity_percent: string;
}

export interface Task {
  entry_id: string;
  at: string;
  until: string | null;
  worker: string;
  task: string;
}

export interface Note {
  entry_id: string;
  at: string;
  author: string;
  about: string;
  text: string;
  file: string;
  sha256: string;
}

export interface DeviceClock {
  device: string;
  received: number;
  ahead_s: number;
  behind_at_most_s: number | null;
  shift_s: number;
}

/** An entry as the fold hands it back: every member there, its instant in UTC text. */
export interface FoldedEntry extends Required<Omit<Entry, 'corrects' | 'received_at'>> {
  corrects: string | null;
  received_at: string | null;
  origin: string;
}

export interface Amendment {
  recorded: FoldedEntry;
  counts: FoldedEntry | null;
  corrections: FoldedEntry[];
}

export interface Unusable {
  entry_id: string;
  kind: string;
  origin: string;
  problems: string[];
}

export interface Day {
  trains: Record<string, Train>;
  runs: Record<string, SampleRun>;
  blanks: Record<string, BlankRun>;
  parcels: Record<string, Parcel>;
  conditions: Conditions[];
  tasks: Task[];
  notes: Note[];
  conflicts: Conflict[];
  remarks: Remark[];
  clocks: Record<string, DeviceClock>;
  amendments: Record<string, Amendment>;
  unusable: Unusable[];
  rivals: FoldedEntry[];
  entry_count: number;
}

// ---------------------------------------------------------------- the day pack (GET /api/v1/pack/…)

/** A port as planned; what a plan names beyond the wanted flow is missing where a train was typed on the device. */
export interface PlannedPort {
  port: string;
  medium: string;
  sampler: string;
  /** All samplers of the port in their turn, by the codes on their labels. */
  samplers?: string[];
  lot?: string;
  catalogue?: string;
  methods: string[];
  target_lpm: number | null;
  target_unit: string;
  /** The window the flow was chosen from. */
  low_lpm?: number | null;
  high_lpm?: number | null;
  /** Minutes of one sampler. */
  minutes?: number | null;
}

/** A field blank of the day, handled with a train; one that is not opened stays capped beside its samplers. */
export interface PlannedBlank {
  code: string;
  medium: string;
  lot: string;
  catalogue: string;
  opened: boolean;
  train: string;
}

/** A labelled sampler without a place in the plan. */
export interface PlannedSpare {
  code: string;
  medium: string;
  lot: string;
  catalogue: string;
}

export interface PlannedTrain {
  train: string;
  worker: string;
  pump: string;
  splitter: string;
  ports: PlannedPort[];
  source: 'plan' | 'log' | 'typed';
}

export interface PackShift {
  code: string;
  start: string;
  end: string;
  reference_min: number;
}

export interface PackWorker {
  code: string;
  group: string;
  shifts: PackShift[];
}

export interface PackPump {
  code: string;
  flow_min_lpm: number | null;
  flow_max_lpm: number | null;
  service_due_on: string;
  area_certificate: string;
}

export interface PackSplitter {
  code: string;
  ports: string[];
  total_max_lpm: number | null;
}

export interface PackMeter {
  code: string;
  kind: string;
  certificate: string;
  certified_on: string;
  due_on: string;
  range_min_lpm: number | null;
  range_max_lpm: number | null;
  relative_u: number | null;
  reads: string;
  calibrated_at_k: number | null;
  calibrated_at_kpa: number | null;
  exponent: number | null;
  curve: [number, number][];
}

export interface PackSampler {
  code: string;
  shift: string;
  worker: string;
  purpose: string;
  methods: string[];
  averaging_min: number | null;
  task: string;
  medium: string;
}

export interface PackMedia {
  lot: string;
  medium: string;
  expiry: string;
  catalogue: string;
  family: string;
}

export interface PackMethod {
  code: string;
  agent: string;
  medium: string;
  flow_min_lpm: number | null;
  flow_max_lpm: number | null;
  volume_min_l: number | null;
  volume_max_l: number | null;
  reporting_limit_ug: number | null;
}

export interface PackLimit {
  agent: string;
  agent_name: string;
  authority: string;
  kind: string;
  value: number;
  unit: string;
  mg_m3: number | null;
  averaging_min: number | null;
  binding: boolean;
}

/** One step of a rule; `value` is in the measure's own unit, as the rule book states it. */
export interface Tier {
  bound: 'above' | 'from' | 'below' | 'is' | 'not recorded';
  value: number | null;
  effect: string;
  words: string;
  remedy: string;
  document: string;
  section: string;
  certainty: string;
  clause_unread: boolean;
}

export interface PackRule {
  id: string;
  title: string;
  measure: string;
  unit: string;
  wanted: string;
  tiers: Tier[];
}

export interface PackRules {
  key: string;
  title: string;
  edition: string;
  caution: string;
  change_basis: 'pre' | 'post' | 'mean';
  flow_rule: 'mean' | 'lower' | 'higher' | 'pre' | 'post';
  averaging_min: number;
  rules: Record<string, PackRule>;
}

export interface PackSurvey {
  code: string;
  title: string;
  site: string;
  zone: string;
  temperature_c: number | null;
  pressure_kpa: number | null;
}

export interface Pack {
  format: string;
  hash: string;
  /** The day trains and blanks are planned for; missing, as the lists below, in a pack kept from an older page. */
  planned_for?: string;
  /** What keeps the plan from naming samplers and blanks. */
  plan_words?: string;
  survey: PackSurvey;
  trains: PlannedTrain[];
  blanks?: PlannedBlank[];
  spares?: PlannedSpare[];
  workers: PackWorker[];
  pumps: PackPump[];
  splitters: PackSplitter[];
  meters: PackMeter[];
  samplers: PackSampler[];
  media: PackMedia[];
  methods: PackMethod[];
  limits: PackLimit[];
  tasks: string[];
  rules: PackRules;
}

// ---------------------------------------------------------------- what the numbers give

export interface Air {
  temperature_k: number;
  pressure_kpa: number;
}

export interface RoundFlow {
  mean_lpm: number;
  spread: number;
  n: number;
  least_lpm: number;
  most_lpm: number;
  meters: string[];
  assumptions: string[];
}

/** What a rule makes of a number; `effect` is '' where nothing is crossed. */
export interface TierFound {
  effect: string;
  words: string;
  remedy: string;
  wanted: string;
  limit: number | null;
  document: string;
  section: string;
  certainty: string;
  clause_unread: boolean;
}

export interface FlowWindow {
  low_lpm: number | null;
  high_lpm: number | null;
  methods: string[];
  why: string;
}

export interface Diagnosis {
  pattern: string;
  words: string;
  look_at: string[];
  ports: string[];
}

export interface PortNow {
  port: string;
  sampler: string;
  run: SampleRun | null;
  medium: string;
  lot: string;
  expiry: string;
  tube: string;
  target_lpm: number | null;
  target_text: string;
  /** The sampler the plan has on this port next, by the code on its label. */
  expected: string;
  /** Minutes of one sampler, as planned. */
  minutes_planned: number | null;
  /** The sampler the plan has on the port after the one that draws; '' where there is none. */
  next_sampler: string;
  /** When it is to go on; '' where the plan does not say. */
  change_at: string;
  methods: string[];
  window: FlowWindow;
  closing: RoundFlow | null;
  closing_stands: boolean;
  closing_lost: string;
  setting: FlowReading[];
  setting_flow: RoundFlow | null;
  pending: FlowReading[];
  pending_flow: RoundFlow | null;
  pending_spread: TierFound | null;
  /** The flow that stands before the last segment. */
  before: RoundFlow | null;
  post: RoundFlow | null;
  post_pending: FlowReading[];
  change: number | null;
  change_tier: TierFound | null;
  drawing: boolean;
  held: boolean;
  segments: number;
  minutes: number | null;
  litres: number | null;
  litres_sure: boolean;
  volume_max_l: number | null;
  volume_max_at: string;
  minutes_left: number | null;
  over_max: boolean;
  volume_useful_l: number | null;
  useful_at: string;
  reached_useful: boolean;
}

export type Stage =
  | 'planned'
  | 'preparing'
  | 'round open'
  | 'ready'
  | 'hung'
  | 'running'
  | 'held'
  | 'stopped'
  | 'post read'
  | 'done';

export interface TrainNow {
  code: string;
  worker: string;
  pump: string;
  splitter: string;
  preparation: number;
  stage: Stage;
  warm_up_min: number | null;
  charged_at: string;
  leak: 'passed' | 'failed' | 'not recorded';
  ports: PortNow[];
  running_since: string;
  minutes: number | null;
  next_check_at: string;
  check_overdue_min: number | null;
  last_check: PumpCheck | null;
  earliest_useful_stop: string;
  latest_safe_stop: string;
  missing: string[];
  counter_min: number | null;
  clock_min: number | null;
  diagnosis: Diagnosis | null;
  diagnoses: Diagnosis[];
}

// ---------------------------------------------------------------- the page's own state

export interface Act {
  kind: string;
  fields: Record<string, string>;
  at?: Date | string;
  corrects?: string;
  reason?: string;
}

export interface SurveyName {
  code: string;
  title: string;
}

export interface DeviceIdentity {
  code: string;
  name: string;
  site: string;
  zone: string;
}

export interface RefusedEntry {
  entry: Entry;
  problems: EntryProblem[];
  number: number;
}

export interface OutboxView {
  waiting: number;
  elsewhere: number;
  refused: RefusedEntry[];
  state: 'idle' | 'sending' | 'waiting' | 'unreachable' | 'pair again' | 'survey unknown';
  last_confirmed_at: string;
  problem: string;
  next_try_at: number | null;
}

export interface View {
  phase: 'unpaired' | 'choosing' | 'ready';
  secure: boolean;
  device: DeviceIdentity | null;
  surveys: SurveyName[];
  survey: string;
  author: string;
  pack: Pack | null;
  pack_fetched_at: string;
  entries: Entry[];
  day: Day;
  outbox: OutboxView;
  clock: { ahead_s: number | null; measured_at: string };
  storage: { persisted: boolean | null; full: boolean; problem: string };
  update: { offered: boolean; blocked: boolean; why: string };
  pairing: { code: string; needs_consent: boolean };
  planned: PlannedTrain[];
}

export interface ExportFile {
  name: string;
  text: string;
  count: number;
  survey: string;
}

export interface Field {
  readonly view: View;
  subscribe(listener: (view: View) => void): () => void;
  now(): number;
  record(kind: string, fields: Record<string, string>, more?: Omit<Act, 'kind' | 'fields'>): Promise<Entry>;
  recordAll(acts: Act[]): Promise<Entry[]>;
  correct(entryId: string, what: Record<string, string> | { withdraw: true }, reason: string): Promise<Entry>;
  choose(chosen: { survey?: string; author?: string }): Promise<void>;
  pair(code: string): Promise<void>;
  sync(): Promise<void>;
  exportWaiting(): Promise<ExportFile[]>;
  takeReceipts(text: string): Promise<number>;
  askPersist(): Promise<boolean>;
  applyUpdate(): void;
  setPlanned(trains: PlannedTrain[]): Promise<void>;
  close(): void;
}
