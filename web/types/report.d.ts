// The figures of a report, as /api/firings/N/report.json has them: those that the page shows.

export interface RingFigures {
  name: string; probe: boolean; peak_celsius: number | null; kwh: number;
  heat_work: { cone_down: string | null; next_cone: string | null; next_cone_bend_degrees: number | null } | null;
}

export interface Changed { what: string; subject: string; before: number | string | null; now: number | string | null; matters: boolean }

export interface ReportFigures {
  headline: string; rings: RingFigures[];
  climbs_celsius_per_hour: { from_celsius: number; to_celsius: number; rings: Record<string, number | null> }[];
  hours_above: { celsius: number; below_peak: boolean; rings: Record<string, number | null> }[];
  soak_minutes: number | null; evenness_celsius: { at_end: number | null; widest: number | null };
  cooling_celsius_per_hour: { name: string; from_celsius: number; to_celsius: number; whole: number | null; limit: number | null }[];
  energy: { kwh: number }; cost: { currency: string; money: number } | null; differences: Changed[];
  questions: string[]; not_known: string[];
  curve: { utc_ms: number; stage: string; celsius: Record<string, number | null> }[];
}
