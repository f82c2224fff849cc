// What the interface answers, as the page reads it. tests/web holds these names to the OpenAPI description.

export type Unit = "degC" | "degF";
export type Setting = "off" | "low" | "medium" | "high";

export interface Forecast { low: number; median: number; high: number }

export interface RingView {
  name: string; has_probe: boolean; celsius: number | null; seen_utc_ms: number | null; climb: number | null;
  switch: string; switch_sure: boolean; fault: string | null;
}

export interface ConeView { role: string; cone: string; bend_degrees: number; words: string }

export interface AlarmView {
  episode: string; tag: string; ring: string | null; priority: string; state: string; since_utc_ms: number;
  seen: string; first_action: string; joined: string[]; acknowledged: boolean; acknowledged_by: string | null;
  shelf_minutes: number; history: DeedView[];
}

export interface DeedView { utc_ms: number; words: string; who: string }

export interface ShelvedView {
  tag: string; ring: string | null; priority: string; seen: string; holds: boolean; since_utc_ms: number;
  until_utc_ms: number; reason: string; who: string;
}

export interface OutOfServiceView { ring: string; since_utc_ms: number; reason: string; who: string }

export interface AskedView { words: string; since_utc_ms: number }

export interface TurnAskedView { question: number; words: string; since_utc_ms: number; at_utc_ms: number }

export interface DutyView {
  holder: string; note: string; taken_utc_ms: number | null; reached_by: string; reached_utc_ms: number | null;
  asked: AskedView | null;
}

export interface NextView { words: string; why: string; at: Forecast | null; turn: [string, string][]; start: string | null }

export interface TimerView { ends_utc_ms: number | null; advised_minutes: number | null; gap: string }

export interface EntryView { sequence: number | null; utc_ms: number; words: string; who: string; undone: boolean; photo: string | null }

export interface FiringView {
  id: number; plan: string; cone: string; stage: string; heating: boolean; started_utc_ms: number; stages: string[];
  stage_number: number; peak_celsius: number | null; cone_celsius: number | null;
}

export interface PanelView {
  speed: number; switches: [string, string][]; troubles: string[]; trouble: string; keeper: boolean;
  shutoff_tripped: boolean; power: boolean; lid: string; timer_minutes_left: number; plugs: string; button: boolean;
}

export interface ConditionView { code: string; since_utc_ms: number; words: string }

export interface CutOutView { running: boolean; since_utc_ms: number; tag: string; words: string; may_arm: boolean }

export interface RoomView { sounder: string; lamp: string; button: boolean; cut_out: CutOutView | null }

export interface Snapshot {
  kiln: string; sequence: number; now_utc_ms: number; speed: number; tick_seconds: number; emulated: boolean;
  zone: string; unit: Unit; mood: string; sentence: string; firing: FiringView | null; rings: RingView[];
  reference_ring: string; cones: ConeView[]; ceiling_celsius: number | null; alarms: AlarmView[];
  shelved: ShelvedView[]; out_of_service: OutOfServiceView[]; duty: DutyView;
  next: NextView | null; cone_down: Forecast | null; shut_off: Forecast | null; timer: TimerView | null;
  cool: [number, Forecast | null][]; entries: EntryView[]; conditions: ConditionView[]; panel: PanelView | null;
  room: RoomView | null; turn_asked: TurnAskedView | null;
}

export interface CurveMark { utc_ms: number; kind: string; words: string }

export interface Curve {
  firing: number; utc_ms: number[]; rings: Record<string, (number | null)[]>; ceiling: (number | null)[];
  marks: CurveMark[]; expected: Band | null; cristobalite: boolean;
}

export interface Band { utc_ms: number[]; low: number[]; high: number[] }

export interface FiringSummary {
  id: number; plan: string; cone: string; started_utc_ms: number; ended_utc_ms: number | null;
  tripped_utc_ms: number | null; peak_celsius: number | null; cone_progress: number | null; alarms: number;
}

export interface KilnBook { firings: FiringSummary[]; total: number }

export interface Done { sequence: number; stored: boolean }

export interface Problem { title: string; status: number; detail: string; fields: { field: string; problem: string }[] }
