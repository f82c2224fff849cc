// Plans as the interface answers them: the form of a plan file. tests/web holds these names to the OpenAPI description.

import type { Setting } from "./shapes";

export type Plugs = "in" | "half" | "out";
export type Ware = "bisque" | "glaze" | "lustre" | "empty";

export interface StageTable {
  name: string; switches: Record<string, Setting>; hours?: number | null; until_celsius?: number | null;
  until?: "cone" | null; plugs?: Plugs | null; ceiling_celsius?: number | null; climb_limit?: number | null;
  soak_minutes?: number | null; expected_hours?: number | null;
  expected_end_celsius?: Record<string, number> | null;
}

export interface PlanTable {
  name: string; cone: string; body?: string | null; shutoff_cone?: string | null;
  lowest_firing_clay_cone?: string | null; ware?: Ware | null; reference_ring?: string | null;
  timer_margin_minutes?: number | null; spread?: SpreadTable | null; damp?: DampTable | null;
  cooling?: CoolingTable | null; stage: StageTable[];
}

export interface SpreadTable { limit_celsius: number; above_celsius: number }

export interface DampTable { celsius_per_hour?: number | null; from_celsius?: number | null; to_celsius?: number | null }

export interface CoolingLimit { from_celsius: number | null; to_celsius: number | null; celsius_per_hour: number | null }

export interface CoolingTable {
  crack_below_celsius?: number | null; open_below_celsius?: number | null; unload_below_celsius?: number | null;
  limits?: CoolingLimit[] | null;
}

export interface KeptPlan { key: string; version: number; plan: PlanTable }

export interface Shelf {
  kiln: string; rings: string[]; maximum_celsius: number; cone_shutoff: boolean; cones: string[]; plans: KeptPlan[];
}

export interface HoursBetween { low: number; likely: number; high: number | null }

export interface Edge { hours: number[]; celsius: number[] }

export interface Outlook {
  hours: number[]; rings: { name: string; celsius: number[] }[]; quick: Edge; slow: Edge;
  stages: { name: string; from_hours: number }[]; down: HoursBetween | null; off: HoursBetween | null;
  timer_minutes: number | null; known: boolean; doubts: { field: string; words: string }[];
  lighting: { light_utc_ms: number; down_low_utc_ms: number; down_high_utc_ms: number } | null;
}

export interface StartOffered {
  kiln: string; begun_utc_ms: number | null; heats_utc_ms: number | null; now_utc_ms: number; last: boolean;
  key: string; plan: PlanTable;
  prepared: {
    damp: boolean | null; seated: boolean | null; rod_centred: boolean | null; gap_millimetres: number | null;
  } | null;
  care: string[];
}

