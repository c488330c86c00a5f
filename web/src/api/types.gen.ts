// Made from the server's Go types: go test ./internal/server -run TestClient -update

export interface AdviceAsked {
  clip: string;
  grade: string;
  set: string;
}

export interface BackgroundPlan {
  at: number[];
  normal?: number[];
  reflectance: number;
  finish?: string;
}

export interface Baked {
  file: string;
  size: number;
  levels: string;
  error: Measured;
  notes: string[];
}

export interface Balance {
  off: boolean;
  white: White;
  target: White;
  keep: number;
  cat: string;
}

export interface BandingRisks {
  rendered: number;
  delivered: number;
  web: number;
}

export interface Box {
  x: number;
  y: number;
  w: number;
  h: number;
}

export interface Budget {
  file: string;
  grade: string;
  peak: number;
  again_quality: number;
  recorded_bits: number;
  out_bits: number;
  dither: string;
  smooth_share: number;
  noise_known: boolean;
  risk: BandingRisks;
  other_bits: OtherBits[];
  levels: BudgetLevel[];
  colours: BudgetLevel[];
  stages: BudgetStage[];
  noise_cost_stops: number | null;
  words: string[];
  notes: string[];
}

export interface BudgetLevel {
  region?: string;
  stops: number;
  code: number;
  signal: number;
  step_jnd: number;
  step_jnd_8: number;
  out_jnd: number;
  gain: number;
  noise: number | null;
  sigma: number | null;
  noise_cost: number | null;
  hidden: boolean;
  area: number;
}

export interface BudgetStage {
  stage: string;
  rendered: number;
  delivered: number;
  web: number;
  noise_stops: number | null;
}

export interface CDL {
  file: string;
  id: string;
  slope: [number, number, number];
  offset: [number, number, number];
  power: [number, number, number];
  saturation: number;
  clamp: boolean;
}

export interface CallAsked {
  set: string;
  order: string;
  hold: number;
}

export interface Called {
  order: string;
  order_number: number;
  steps: Step[];
  length: number;
  file: string;
  advice: string[];
  notes: string[];
}

export interface CameraPlan {
  at: number[];
  look?: number[];
  sensor_mm: number[];
  focal_mm: number;
  f: number;
  transmission: number;
  focus?: number;
  shutter_deg?: number;
  shutter_s?: number;
  rate: number;
  sensitivity: number;
  nd_stops: number;
  curve?: string;
  clip_stops?: number | null;
  floor_stops?: number | null;
  white_balance?: number;
  mains_hz: number;
  lines: number;
}

export interface Change {
  of: string;
  jump: boolean;
  from: number;
  to: number;
  size: number;
  error: number;
}

export interface CheckAsked {
  file: string;
  set: string;
  camera_same: boolean;
}

export interface Checked {
  verdict: string;
  file: string;
  set: string;
  lamps: CheckedLamp[];
  ambient: CheckedAmbient;
  camera: CheckedCamera;
  unknown: CheckedLight[];
  advice: string[];
  reasons: string[];
  correction: Correction | null;
  explained: number;
  thresholds: CheckedHabit;
  frames: number;
  notes: string[];
  seconds: number;
}

export interface CheckedAmbient {
  stops: number | null;
  se: number | null;
  changed: boolean;
}

export interface CheckedCamera {
  gain_stops: number | null;
  gain_se: number | null;
  white_balance_mired: number | null;
  dx: number;
  dy: number;
  scale: number;
  rotation: number;
  moved: boolean;
  changed: boolean;
  inseparable: boolean;
}

export interface CheckedHabit {
  mention_stops: number;
  act_stops: number;
  from_checks: number;
}

export interface CheckedLamp {
  name: string;
  stops: number | null;
  se: number | null;
  mired: number | null;
  mired_se: number | null;
  verdict: string;
  act: boolean;
  share: number;
  reason?: string;
}

export interface CheckedLight {
  x: number;
  y: number;
  w: number;
  h: number;
  stops: number;
}

export interface CircuitPlan {
  name: string;
  volts: number;
  breaker: number;
  other_watts?: number;
  at?: number[];
}

export interface ClipReading {
  region: string;
  frames: number;
  signal: number;
  stops: number | null;
  se: number;
  low: number | null;
  high: number | null;
  spread: number | null;
  linear: [number, number, number] | null;
  xy: XY;
  cct: number | null;
  duv: number | null;
  hue?: number | null;
  purity?: number | null;
  clipped: number | null;
  under: number | null;
  over?: Moment[];
  notes?: string[];
  screen?: ScreenReading | null;
}

export interface Clipped {
  frames: number;
  clip: number | null;
  given: boolean;
  sure: boolean;
  high: EndParts;
  low: EndParts;
  peak: number;
  least: number;
  problems?: Problem[];
  notes?: string[];
}

export interface CodesFound {
  frames: number;
  bits: number;
  effective: number | null;
  comb: Comb;
  range: RangeFound;
  curve: Plausibility;
  problems?: Problem[];
  notes?: string[];
}

export interface Comb {
  step: number;
  gaps: boolean;
  share: number;
  error: number;
}

export interface Compared {
  stretches_s: ([number, number])[];
  frames: number;
  codec_max_de00: number;
  codec_mean_de00: number;
  arithmetic_max_de00: number;
  arithmetic_mean_de00: number;
  arithmetic_max_codes: number;
  codec_settings_known: boolean;
}

export interface ComparedEpisodes {
  set: string;
  a: string;
  b: string;
  rows: ComparedRow[];
  notes: string[];
  files: Record<string, string>;
}

export interface ComparedRow {
  what: string;
  unit: string;
  value_a: number | null;
  value_b: number | null;
  difference: number | null;
}

export interface Convert {
  off: boolean;
  by: string;
  slope: number;
  toe: number;
  peak: number;
  apply: string;
  lut: string;
  lut_in: string;
  lut_out: string;
}

export interface Correction {
  exposure_stops: number;
  balance_stops: [number, number];
  left_stops: Record<string, number>;
}

export interface Curve {
  off: boolean;
  master: ([number, number])[];
  red: ([number, number])[];
  green: ([number, number])[];
  blue: ([number, number])[];
  foot: ([number, number])[];
}

export interface CurveParams {
  base: number;
  lin_side_slope: number;
  lin_side_offset: number;
  log_side_slope: number;
  log_side_offset: number;
  lin_side_break: number;
  linear_slope?: number | null;
}

export interface CurveReading {
  black: number;
  under: number;
  dark: number | null;
  bright: number | null;
  verdict: string;
  why: string;
}

export interface Decode {
  off: boolean;
  curve: string;
  gamut: string;
  levels: string;
  range: string;
  matrix: string;
  clip: number;
  params?: CurveParams | null;
}

export interface DemoAsked {
  folder: string;
  size: number;
}

export interface DiffusionPlan {
  size: number[];
  distance: number;
  transmission: number;
  spread?: number | null;
}

export interface DimmerReport {
  dimmer: number;
  level: number;
  se: number;
}

export interface DroppedStretch {
  start: number;
  end: number;
  why: string;
}

export interface Encode {
  off: boolean;
  bits: number;
  sub: string;
  limiter: string;
  dither: string;
  seed: number;
}

export interface EndParts {
  r: number;
  g: number;
  b: number;
  any: number;
  places?: Place[];
  over?: Moment[];
}

export interface EpisodeAnswer {
  check?: EpisodeCheck;
  readings: EpisodeReading[];
  problems: Problem[];
  grade?: string;
  exposure_stops: number;
  mired: number | null;
  before?: MatchLeft;
  after?: MatchLeft;
  regions: MatchedRegion[];
  frames?: number;
  verified_mean_de00: number;
  verified_max_de00: number;
  seconds: number;
  notes: string[];
}

export interface EpisodeAsked {
  set: string;
  name: string;
}

export interface EpisodeBook {
  set: string;
  episodes: ShownEpisode[];
}

export interface EpisodeCheck {
  verdict: string;
  lamps_stops: Record<string, number | null>;
  gain_stops: number | null;
  white_balance_mired: number | null;
  ambient_stops: number | null;
  moved: boolean;
  advice: string[];
}

export interface EpisodeHistory {
  set: string;
  series: HistorySeries[];
  strays: HistoryStray[];
}

export interface EpisodePlanned {
  episode: ShownEpisode;
  presets: string[];
}

export interface EpisodeReading {
  region: string;
  stops: number | null;
  cct: number | null;
  duv: number | null;
}

export interface EpisodeRetry {
  set: string;
  name: string;
  numbers: number[];
  accept: boolean;
}

export interface EpisodeWanted {
  set: string;
  name: string;
  clips: string[];
  grade: string;
  preset: string;
  stops: number;
  de00: number;
}

export interface EpisodesCompared {
  set: string;
  a: string;
  b: string;
}

export interface ErrorBody {
  code: string;
  message: string;
  hint: string;
}

export interface Estimate {
  seconds: number;
  bytes: number;
  trial_frames: number;
  doubts?: string[];
}

export interface Exposure {
  off: boolean;
  stops: number;
}

export interface FileAsked {
  id: string;
}

export interface Flashes {
  frames: number;
  peak: number;
  general: number;
  red: number;
  pattern: Pattern;
  problems?: Problem[];
  notes?: string[];
}

export interface Flickering {
  frames: number;
  searched: boolean;
  wave: Wave;
  rate: number;
  problems?: Problem[];
  notes?: string[];
}

export interface Gap {
  region: string;
  to: string;
  mired: number;
  error: number;
  duv: number;
}

export interface GaugeLevels {
  frames: number;
  over: number;
  worst: number;
  at: number;
  mean: number;
  r: LevelRange;
  g: LevelRange;
  b: LevelRange;
  y: LevelRange;
  problems?: Problem[];
  notes?: string[];
}

export interface GaugeMeasured {
  frames: number;
  readings: Reading[];
  clipping: Clipped;
  constancy: Steady;
  noise: NoiseFound;
  flicker: Flickering;
  codes: CodesFound;
  focus: Sharpness;
  repeats: Repeated;
  handling: Handling;
  smooth?: SmoothArea;
}

export interface Grade {
  schema: number;
  name: string;
  decode: Decode;
  exposure: Exposure;
  balance: Balance;
  split: Split;
  curve: Curve;
  saturation: Saturation;
  convert: Convert;
  look: Look;
  vignette: Vignette;
  encode: Encode;
}

export interface GradeGot {
  grade: Grade;
}

export interface GradeKept {
  id: string;
  grade: Grade;
  new: boolean;
  was: Grade | null;
}

export interface GradeSet {
  grade: Grade;
  settings: string[];
}

export interface GradeWanted {
  id: string;
  clip: string;
  curve: string;
}

export interface GuessedOrder {
  pattern: string;
  confidence: number;
}

export interface HandedFile {
  file: string;
  what: string;
  error?: Measured | null;
}

export interface HandedOff {
  folder: string;
  files: HandedFile[];
  notes: string[];
}

export interface Handling {
  frames: number;
  reach: number | null;
  x?: Moment[];
  y?: Moment[];
  problems?: Problem[];
  notes?: string[];
}

export interface HandoffAsked {
  set: string;
  grade: string;
  clip: string;
  folder: string;
}

export interface HeardBeeps {
  heard: number;
  of: number;
}

export interface HistoryPoint {
  episode: string;
  clip: number;
  made: string;
  value: number | null;
}

export interface HistorySeries {
  group: string;
  what: string;
  unit: string;
  points: HistoryPoint[];
  trend: HistoryTrend | null;
}

export interface HistoryStray {
  what: string;
  unit: string;
  episode: string;
  clip: number;
  value: number;
  usual: number;
}

export interface HistoryTrend {
  per_episode: number;
  total: number;
  episodes: number;
  p: number;
  sure: boolean;
}

export interface HoldsFound {
  curve: string;
  holds: SetHold[];
}

export interface IntendedFound {
  declared: string;
  what: string;
  size: number;
  unit: string;
  from: number;
  to: number;
}

export interface Job {
  id: string;
  kind: string;
  title: string;
  state: string;
  step: JobStep | null;
  result: unknown;
  error: ErrorBody | null;
}

export interface JobAsked {
  job: string;
}

export interface JobProblem {
  kind?: string;
  what: string;
  size: number;
  unit: string;
  from: number;
  to: number;
  severity?: string;
  advice: string;
}

export interface JobStep {
  what: string;
  done: number;
  total: number;
  detail: string;
}

export interface LUTWanted {
  grade: string;
  out: string;
  size: number;
  overwrite: boolean;
}

export interface LadderEnds {
  clip_stops: number | null;
  floor_stops: number | null;
  top_stops: number | null;
}

export interface LampKinds {
  kinds: PlanKind[];
}

export interface LampPlan {
  name: string;
  kind?: string;
  shape: string;
  size?: number[];
  at: number[];
  aim?: unknown;
  turn?: number;
  level?: number | null;
  lowest?: number;
  lux?: number;
  distance?: number;
  lumens?: number;
  luminance?: number;
  photometry?: string;
  beam?: number;
  field?: number;
  grid?: number;
  diffusion?: DiffusionPlan;
  kelvin?: number;
  coloured?: boolean;
  gel_mired?: number;
  gel_loss_stops?: number;
  dimming?: string;
  pulse_hz?: number;
  watts?: number;
  power_factor?: number;
  circuit?: string;
  ambient?: boolean;
  measured_stops?: number | null;
  measured_se?: number;
}

export interface LampReport {
  name: string;
  level: number;
  dimmer: number;
  dimmer_known: boolean;
  stops: Record<string, LampStops>;
  share: Record<string, number>;
  clips: Record<string, number>;
  cct: number | null;
  duv: number | null;
  mired_to_key: number | null;
  mired_se: number | null;
  tint_to_key: [number, number] | null;
  se: number | null;
  dimmer_points: DimmerReport[];
  clipped_pixels: number;
}

export interface LampStops {
  alone: number | null;
  in_mix: number | null;
  se: number | null;
}

export interface LearnAsked {
  clip: string;
  set: string;
  order: string;
  curve: string;
  overwrite: boolean;
}

export interface LearnTiming {
  frames: number;
  decode_s: number;
  numbers_s: number;
}

export interface LearnedSet {
  set: string;
  curve: string;
  order: string;
  guess: GuessedOrder | null;
  beeps: HeardBeeps | null;
  holds: SetHold[];
  dropped: DroppedStretch[];
  lamps: LampReport[];
  readings: RegionReading[];
  ratios: RatioReport;
  additivity: number | null;
  recording: RecordingReport;
  regions: SetRegion[];
  files: Record<string, string>;
  notes: string[];
  timing: LearnTiming;
}

export interface LevelRange {
  part: number;
  least: number;
  most: number;
}

export interface Levels {
  luma_min: number;
  luma_max: number;
  luma_below_black: number;
  luma_above_white: number;
  reserved: number;
}

export interface LightAsked {
  clip: string;
  set: string;
  grade: Grade;
  file: string;
  after: string;
  frame: number;
  width: number;
  regions: LiveRegion[];
}

export interface ListedFile {
  id: string;
  name: string;
  folder: number;
  bytes: number;
  kind: string;
}

export interface ListedSet {
  name: string;
  learned: string;
  clip: string;
  lamps: string[];
  regions: string[];
  bytes: number;
  checks: number;
}

export interface LiveIsolux {
  stop: number;
  points: ([number, number])[];
}

export interface LiveLamp {
  at: [number, number, number];
  facing: [number, number, number];
  across: [number, number, number];
  up: [number, number, number];
  cable: ([number, number])[];
}

export interface LiveLight {
  from: number;
  step: number;
  share: number[];
  readings: LiveReading[];
  clipped: number;
}

export interface LiveMix {
  weights: ([number, number, number])[];
  readings: LiveReading[];
  dimmer: number[];
  ratios: RatioReport;
  clip_stops: number | null;
  floor_stops: number;
}

export interface LivePlan {
  text: string;
  saved: boolean;
  plan: Plan;
  figures: Planned;
  lamps: LiveLamp[];
  head: [number, number, number];
  facing: [number, number, number];
  isolux: LiveIsolux[];
}

export interface LiveProgram {
  slope: number;
  offset: number;
  steps: PackedStep[];
  vignette: PictureVignette | null;
  limit: boolean;
  domain: string;
  ladder: LiveRung[];
  plain: LiveRung[];
  clip_stops: number;
  clip_measured: boolean;
  split: LiveSplit;
  notes: string[];
  milliseconds: number;
}

export interface LiveReading {
  region: string;
  x: number;
  y: number;
  w: number;
  h: number;
  scene: number;
  screen: number;
  signal: number;
  rgb: [number, number, number];
}

export interface LiveRegion {
  name: string;
  x: number;
  y: number;
  w: number;
  h: number;
}

export interface LiveRung {
  scene: number;
  screen: number;
  signal: number;
}

export interface LiveSplit {
  pushes: [Push, Push, Push];
  card_de: number;
  card_neutral: boolean;
}

export interface Look {
  off: boolean;
  lut: string;
  strength: number;
}

export interface Loudness {
  number: number;
  integrated_lufs: number | null;
  range_lu: number | null;
  true_peak_dbtp: number | null;
}

export interface MatchLeft {
  stops: number;
  de00: number;
  max_de00: number;
}

export interface MatchedRegion {
  region: string;
  weight: number;
  stops_before: number;
  stops_after: number;
  de00_before: number;
  de00_after: number;
}

export interface MeasureAsked {
  clip: string;
  set: string;
  grade: string;
}

export interface MeasurePlan {
  frames: number;
  decoded: number;
  thin: number;
  share: number;
  every_frame: boolean;
  stretches_s: ([number, number])[];
  longest_unseen_s: number;
  words: string;
}

export interface Measured {
  over: string;
  points: number;
  maxDE: number;
  meanDE: number;
  neutral: number;
  exact: number;
}

export interface MeasuredClip {
  file: string;
  set?: string;
  curve: string;
  plan: MeasurePlan;
  readings: ClipReading[];
  gaps: Gap[];
  ladder: LadderEnds;
  problems: Problem[];
  intended: IntendedFound[];
  preflight: PreflightItem[];
  found: GaugeMeasured;
  regions: Region[];
  files?: string[];
  notes: string[];
}

export interface MixAsked {
  clip: string;
  set: string;
  grade: Grade;
  file: string;
  after: string;
  levels: number[];
}

export interface MixedLight {
  a: string;
  b: string;
  mired: number;
  warn: boolean;
  why: string;
}

export interface Moment {
  from: number;
  to: number;
  n: number;
  mean: number;
  least: number;
  most: number;
}

export interface NoiseFound {
  frames: number;
  pairs: number;
  levels?: NoiseLevel[];
  agree: boolean | null;
  ratio: number | null;
  persistence: number | null;
  effective: number | null;
  line: NoiseLine;
  snr_grey: number | null;
  snr_shadow: number | null;
  floor: number | null;
  floor_error: number;
  problems?: Problem[];
  notes?: string[];
}

export interface NoiseLevel {
  code: number;
  stops: number | null;
  time: number | null;
  cb: number | null;
  cr: number | null;
  space: number | null;
  se: number;
  light: NoiseLight;
  n: number;
}

export interface NoiseLight {
  light: number;
  sigma: number;
}

export interface NoiseLine {
  a: number;
  b: number;
  a_se: number;
  b_se: number;
  scatter: number;
}

export interface Nothing {
}

export interface Number {
  name: string;
  value: number;
  unit: string;
}

export interface OpenedGrade {
  id: string;
  grade: Grade;
  text: string;
}

export interface OtherBits {
  recorded_bits: number;
  out_bits: number;
  risk: BandingRisks;
}

export interface OutputChecks {
  levels: GaugeLevels;
  flashes: Flashes;
  black: Moment[];
  still: Moment[];
  skin: SkinFound;
  loudness: Loudness[];
}

export interface PackedStep {
  form: string;
  at: number;
  samples: number;
  cube: string;
  size: number;
}

export interface PairAsked {
  code: string;
}

export interface Pattern {
  pairs: number;
  pairs_error: number;
  area: number;
  difference: number;
  error: number;
  moves: boolean;
}

export interface Phone {
  id: string;
  name: string;
  since: string;
  seen: string;
}

export interface PhoneAsked {
  id: string;
}

export interface PhoneStarted {
  phone: boolean;
  paired: boolean;
  sets: ListedSet[];
  files: ListedFile[];
}

export interface PhonesState {
  lan: boolean;
  addresses: string[];
  code: string;
  until: string;
  paused: string;
  phones: Phone[];
}

export interface PictureVignette {
  stops: number;
  centreX: number;
  centreY: number;
  aspect: number;
  inner: number;
  softness: number;
}

export interface Place {
  box: Box;
  share: number;
}

export interface PlacePlan {
  name: string;
  at: number[];
  normal: number[];
  reflectance: number;
  finish?: string;
}

export interface Plan {
  schema: number;
  title: string;
  room: RoomPlan;
  subject: SubjectPlan;
  background?: BackgroundPlan;
  camera: CameraPlan;
  lamp: LampPlan[];
  thing?: ThingPlan[];
  place?: PlacePlan[];
  circuit?: CircuitPlan[];
  targets?: string[];
}

export interface PlanChange {
  key: string;
  value: unknown;
}

export interface PlanKind {
  name: string;
  says: string;
  assumes: string;
}

export interface PlanLampMet {
  name: string;
  regions: PlanRegion[];
  factor_stops: number | null;
  se: number;
}

export interface PlanMet {
  set: string;
  lamps: PlanLampMet[];
  not_in_set: string[];
  not_in_plan: string[];
  readings: PlanReadingMet[];
  kept: boolean;
}

export interface PlanMove {
  name: string;
  from_m: number;
  to_m: number;
  at: [number, number, number];
  why: string;
  level: number;
}

export interface PlanReadingMet {
  region: string;
  measured_stops: number;
}

export interface PlanRegion {
  region: string;
  planned_stops: number;
  measured_stops: number;
  off_stops: number;
  within: boolean;
}

export interface PlanSafe {
  time_s: number;
  shutter_deg: number;
}

export interface PlanSolved {
  set: string;
  met: boolean;
  exposure_stops: number;
  levels: SolvedLevel[];
  targets: SolvedTarget[];
  alternatives: SolvedOtherwise[];
  seconds: number;
  moves: PlanMove[];
  nd_stops: number;
  f: number;
}

export interface Planned {
  file: string;
  title: string;
  readings: PlannedReading[];
  ratios: PlannedRatios;
  lamps: PlannedLamp[];
  falloff: PlannedShift[];
  exposure: PlannedExposure;
  lens: PlannedLens;
  power: PlannedPower;
  cautions: string[];
  notes: string[];
  files?: Record<string, string>;
  met?: PlanMet;
  solved?: PlanSolved;
}

export interface PlannedCircuit {
  name: string;
  volts: number;
  breaker_a: number;
  watts: number;
  amperes: number;
  limit_a: number;
  margin_a: number;
  over: boolean;
  lamps: string[];
}

export interface PlannedExposure {
  f: number;
  t: number;
  time_s: number;
  shutter_deg: number;
  rate: number;
  sensitivity: number;
  nd_stops: number;
  nd_density: number;
  ev100: number;
  grey_lux: number;
  curve?: string;
  clip_stops: number | null;
  clip_from: string;
  floor_stops: number | null;
  headroom_stops: number | null;
  card_stops: number | null;
  f_for_grey: number | null;
  nd_for_grey_stops: number | null;
  mains_safe: PlanSafe[];
  mains_hz: number;
  is_mains_safe: boolean;
  ripple_stops: number;
}

export interface PlannedLamp {
  name: string;
  kind?: string;
  level: number;
  lumens: number;
  lux: Record<string, number>;
  bounced_lux: Record<string, number>;
  stops: Record<string, number | null>;
  se: number;
  room_mean_lux: number;
  distance_m: number;
  inverse_square_from_m: number;
  cct: number | null;
  mired_to_key: number | null;
  mired_to_white: number | null;
  looks: string;
  shown_bt709: [number, number, number] | null;
  measured_stops: number | null;
  flicker?: string;
  cable_m?: number;
}

export interface PlannedLens {
  focal_mm: number;
  angle_h_deg: number;
  angle_v_deg: number;
  angle_d_deg: number;
  subject_m: number;
  focus_m: number;
  frame_width_m: number;
  frame_height_m: number;
  head_share: number;
  near_m: number;
  far_m: number | null;
  hyperfocal_m: number;
  circle_mm: number;
  subject_sharp: boolean;
  background_m: number;
  background_width_m: number;
  background_blur_share: number;
}

export interface PlannedPower {
  watts: number;
  circuits: PlannedCircuit[];
  no_circuit: string[];
}

export interface PlannedRatios {
  key_to_fill: number | null;
  lit_to_shade_stops: number | null;
  key_to_background_stops: number | null;
  key: string;
  fill: string;
  room_lifts_shade_stops: number | null;
}

export interface PlannedReading {
  region: string;
  lux: number;
  stops: number | null;
  se: number;
  reflectance: number;
  bounced_share: number;
  lens_stops: number;
  clipped: boolean;
  in_noise: boolean;
  at: [number, number, number];
  normal: [number, number, number];
  mirrors: string[];
}

export interface PlannedShift {
  region: string;
  toward: string;
  metres: number;
  stops: number;
}

export interface Plausibility {
  curve: string;
  claimed: CurveReading;
  squeezed: CurveReading;
  stretched: CurveReading;
  dark: number;
  bright: number;
  clips: boolean;
}

export interface PreflightItem {
  item: string;
  set: string;
  why: string;
  evident: boolean;
}

export interface Probed {
  id: string;
  width: number;
  height: number;
  frames: number;
  opening: number;
  rate: number;
  duration_s: number;
  bits: number;
  codec: string;
  range: string;
  notes: string[];
  curve: string;
  rotation: number;
}

export interface Problem {
  kind: string;
  what: string;
  size: number;
  error?: number;
  unit: string;
  from: number;
  to: number;
  severity: string;
  advice: string;
  where?: Box[];
}

export interface Push {
  mired: number;
  duv: number;
}

export interface RangeFound {
  tag: string;
  looks: string;
  why: string;
}

export interface RatioReport {
  key_to_fill: number | null;
  key_to_background_stops: number | null;
  lit_to_shade_stops: number | null;
}

export interface Reading {
  region: string;
  frames: number;
  signal: number;
  stops: number | null;
  se: number;
  low: number | null;
  high: number | null;
  spread: number | null;
  linear: [number, number, number] | null;
  xy: XY;
  cct: number | null;
  duv: number | null;
  hue?: number | null;
  purity?: number | null;
  clipped: number | null;
  under: number | null;
  over?: Moment[];
  notes?: string[];
}

export interface RecordingReport {
  clip_code: number | null;
  noise_stops: number | null;
  frames_sharing_noise: number;
  flicker: number;
}

export interface Region {
  name: string;
  box: RegionBox;
  shape?: string;
  confidence: number;
  reason?: string;
}

export interface RegionBox {
  x: number;
  y: number;
  w: number;
  h: number;
}

export interface RegionOnScene {
  region: string;
  signal: number;
  screen_stops: number | null;
  chroma: number;
}

export interface RegionReading {
  region: string;
  stops: number | null;
  se: number | null;
  spread_stops: number;
  clipped: number;
}

export interface RenameAsked {
  set: string;
  pairs: string[];
}

export interface RenderAsked {
  clip: string;
  grade: string;
  out: string;
  overwrite: boolean;
}

export interface Rendered {
  file: string;
  frames: number;
  seconds: number;
  prepare_seconds: number;
  frames_per_second: number;
  bytes: number;
  kernel_share: number;
  exact_share: number;
  error: Measured | null;
  kernel: string;
  estimate?: Estimate | null;
  notes: string[];
}

export interface Repeat {
  index: number;
  time: number;
  part: number;
}

export interface Repeated {
  frames: number;
  pairs: number;
  doubled: number;
  missing: number;
  cadence: number;
  rate: number;
  copies?: Repeat[];
  gaps?: TimeGap[];
  freezes?: Moment[];
  problems?: Problem[];
  notes?: string[];
}

export interface Reported {
  file: string;
  clip?: string;
  episode?: string;
  clips: number;
  bytes: number;
  sections: string[];
  problems: number;
  notes: string[];
}

export interface RoomAsked {
  id: string;
  text: string;
  changes: PlanChange[];
  isolux: boolean;
}

export interface RoomKept {
  id: string;
  text: string;
  was: string;
}

export interface RoomMeet {
  id: string;
  text: string;
  set: string;
}

export interface RoomPlan {
  width: number;
  depth: number;
  height: number;
  walls?: number | null;
  ceiling?: number | null;
  floor?: number | null;
  left?: number | null;
  right?: number | null;
  front?: number | null;
  back?: number | null;
}

export interface RoomSolve {
  id: string;
  text: string;
  targets: string[];
}

export interface RoomWanted {
  id: string;
  example: boolean;
}

export interface Saturation {
  off: boolean;
  amount: number;
  cdl?: CDL | null;
}

export interface ScopeAsked {
  clip: string;
  set: string;
  grade: Grade;
  file: string;
  after: string;
  frame: number;
  width: number;
  scope: string;
}

export interface ScreenReading {
  signal: number;
  stops: number | null;
}

export interface SetAsked {
  set: string;
}

export interface SetHold {
  start: number;
  end: number;
  on: string[];
}

export interface SetRegion {
  name: string;
  x: number;
  y: number;
  w: number;
  h: number;
  mask?: number[];
  said?: boolean;
  wobble?: number;
}

export interface ShareAsked {
  set: string;
  levels: number[];
}

export interface Sharpness {
  frames: number;
  face: number | null;
  rest: number | null;
  error: number;
  sharpest: Place[];
  over?: Moment[];
  problems?: Problem[];
  notes?: string[];
}

export interface Shown {
  clip: string;
  set: string;
  grade: Grade;
  file: string;
  after: string;
}

export interface ShownCheck {
  when: string;
  file: string;
  verdict: string;
  changes_stops: Record<string, number>;
}

export interface ShownClip {
  number: number;
  file: string;
  out: string;
  state: string;
  step?: string;
  reason?: string;
  tries: number;
  found: EpisodeAnswer | null;
}

export interface ShownEpisode {
  set: string;
  name: string;
  made: string;
  grade: string;
  out: string;
  preset: string;
  waiting: number;
  done: number;
  aside: number;
  clips: ShownClip[];
}

export interface ShownSet {
  set: string;
  curve: string;
  order: string;
  guess: GuessedOrder | null;
  beeps: HeardBeeps | null;
  holds: SetHold[];
  dropped: DroppedStretch[];
  lamps: LampReport[];
  readings: RegionReading[];
  ratios: RatioReport;
  additivity: number | null;
  recording: RecordingReport;
  regions: SetRegion[];
  files: Record<string, string>;
  notes: string[];
  timing: LearnTiming;
  learned: string;
  clip: string;
  checks: ShownCheck[];
  thresholds: CheckedHabit;
}

export interface Shutter {
  seconds: number;
  fraction: string;
  angle: number;
}

export interface SkinFound {
  region: string;
  frames: number;
  hue: number | null;
  off: number | null;
  share: number;
  grey: number;
  over?: Moment[];
  problems?: Problem[];
  notes?: string[];
}

export interface SmoothArea {
  share: number;
  area: number[];
  slope: number[];
}

export interface SolveAsked {
  set: string;
  targets: string[];
}

export interface Solved {
  set: string;
  met: boolean;
  exposure_stops: number;
  levels: SolvedLevel[];
  targets: SolvedTarget[];
  alternatives: SolvedOtherwise[];
  seconds: number;
}

export interface SolvedLevel {
  name: string;
  level: number;
  dimmer: number;
  stops: number | null;
  dimmer_before: number;
  dimmer_known: boolean;
  off: boolean;
  until?: string;
}

export interface SolvedOtherwise {
  what: string;
  met: boolean;
  exposure_stops: number;
  levels: Record<string, number>;
}

export interface SolvedTarget {
  region: string;
  over?: string;
  neutral?: boolean;
  want: number;
  before: number | null;
  got: number | null;
  tolerance: number;
  met: boolean;
  reason: string;
  target: string;
}

export interface Split {
  off: boolean;
  centres: [number, number, number];
  shadow: Push;
  middle: Push;
  high: Push;
  counter: string;
  spread: [number, number];
}

export interface Started {
  version: string;
  folders: string[];
  files: ListedFile[];
  sets: ListedSet[];
  curves: string[];
  kinds: Record<string, string>;
}

export interface Steady {
  frames: number;
  known: boolean;
  exposure?: Moment[];
  white?: Moment[];
  tint?: Moment[];
  changes?: Change[];
  problems?: Problem[];
  notes?: string[];
}

export interface Step {
  hold: string;
  say: string;
  ready: number;
  now: number;
  number: number;
}

export interface SubjectPlan {
  at: number[];
  eyes: number;
  facing?: number | null;
  reflectance: number;
  hair: number;
  move: number;
}

export interface Suggested {
  file: string;
  grade: string;
  set?: string;
  suggestions: Suggestion[];
  mixed_light: MixedLight[];
  applied: string[];
  notes: string[];
}

export interface Suggestion {
  stage: string;
  change: boolean;
  unknown: boolean;
  settings: string[];
  reason: string;
  numbers: Number[];
  before: RegionOnScene[];
  after: RegionOnScene[];
  applied: boolean;
}

export interface ThingPlan {
  name: string;
  at: number[];
  size: number[];
  turn?: number;
  reflectance: number;
  quiet?: boolean;
}

export interface TimeGap {
  index: number;
  time: number;
  frames: number;
}

export interface Verified {
  ok: boolean;
  file: string;
  frames: number;
  max_de00: number;
  mean_de00: number;
  audio_same: boolean | null;
  problems: JobProblem[];
  compared?: Compared | null;
  levels: Levels;
  checks?: OutputChecks | null;
  notes: string[];
}

export interface VerifyAsked {
  file: string;
  clip: string;
  grade: string;
}

export interface Vignette {
  off: boolean;
  stops: number;
  centre: [number, number];
  aspect: number;
  inner: number;
  softness: number;
}

export interface Wave {
  amplitude: number;
  error: number;
  stops: number;
  aliased: number;
  bands: number;
  mains: number[];
  readout: number;
  shutters?: Shutter[];
}

export interface White {
  xy?: [number, number] | null;
  cct?: number | null;
  duv?: number | null;
  card?: [number, number, number] | null;
}

export interface XY {
  X: number;
  Y: number;
}
