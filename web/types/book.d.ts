// What the kiln book's addresses answer. tests/web holds these names to the OpenAPI description.

import type { FiringSummary } from "./shapes";

export interface Sketch { utc_ms: number[]; celsius: number[] }

export interface BookLine { firing: FiringSummary; sketch: Sketch }

export interface BookPage { lines: BookLine[]; found: number; total: number }

export interface StageView { stage: string; began_utc_ms: number; hours: number }

export interface BookMark { utc_ms: number; kind: string; words: string; who: string; photo: string | null }

export interface Opened { firing: FiringSummary; stages: StageView[]; marks: BookMark[] }

export interface Over {
  firing: FiringSummary; celsius: (number | null)[]; against_first: (number | null)[]; stages: StageView[];
}

export interface Overlay { by: string; ring: string; hours: number[]; firings: Over[] }

export interface RunView {
  cone: string; celsius: (number | null)[]; against_first: (number | null)[]; down_hours: number | null;
  off_hours: number | null; peak_celsius: number; kwh: number | null;
}

export interface WhatIfView {
  firing: number; ring: string; hours: number[]; runs: RunView[]; stages: string[]; words: string;
}
