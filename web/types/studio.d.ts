// What the studio's addresses answer. tests/web holds these names to the OpenAPI description.

import type { Unit } from "./shapes";

export interface ProbeView { type: string; tolerance_class: number; offset_celsius: number }

export interface StudioRing { name: string; watts: number; probe: ProbeView | null }

export interface WatchPart { code: string; words: string; since_utc_ms: number | null }

export interface StudioView {
  kiln: string; emulated: boolean; maximum_celsius: number; mains_volts: number; cone_shutoff: boolean;
  timer_stops_in_power_cut: boolean; rings: StudioRing[]; tick_seconds: number; zone: string; unit: Unit; watch: WatchPart[];
}

export interface BackupView { name: string; made_utc_ms: number; size_bytes: number }

export interface BackupsView { newest: BackupView | null; kept: number; making: boolean; trouble: string }

export interface Delivery {
  person: string; channel: string; loud: boolean; reach: string; told_utc_ms: number | null; error: string;
  error_utc_ms: number | null; waiting: number; rang: string; rang_utc_ms: number | null;
}

export interface PersonView {
  name: string; role: string; quiet_from: number | null; quiet_to: number | null; channels: Delivery[]; by_settings: boolean; report: boolean;
}
