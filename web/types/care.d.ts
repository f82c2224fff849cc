// What /api/care answers. tests/web holds these names to the OpenAPI description.

export interface ElementsView {
  ring: string; words: string; weak: boolean; new_utc_ms: number | null; firings: number; lost_low_percent: number;
  lost_high_percent: number; due_low: number | null; due_about: number | null; due_high: number | null;
  utc_ms: number[]; strength_percent: number[];
}

export interface ProbeCareView {
  ring: string; words: string; drifts: boolean; offset_celsius: number | null; off_celsius: number | null;
  utc_ms: number[]; celsius: number[];
}

export interface TripView { utc_ms: number; late_celsius: number; gap_millimetres: number | null; taught: boolean; words: string }

export interface CareMark { utc_ms: number; ring: string; what: string; who: string }

export interface CareView {
  rings: string[]; firings: number; elements: ElementsView[]; together: string; open: string; probes: ProbeCareView[];
  shutoff: string; trips: TripView[]; taught: string; lesson: string; teaches: boolean | null; marks: CareMark[]; may: string[];
}

export interface UseLine { who: string; firings: number; kwh: number; money: number | null }

export interface UseView { days: number; from_utc_ms: number | null; firings: number; currency: string; people: UseLine[]; measured_share: number }
