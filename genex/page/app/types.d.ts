/* Shapes of what genex writes into a page. Times are ticks (960 a quarter) where they are whole
   numbers called ticks, else seconds. */

export interface Envelope {
  delay: number; attack: number; hold: number; decay: number; sustain: number;
  release: number; choke: number; range_db: number;
}
export interface FilterMoves {
  cents: number; delay: number; attack: number; hold: number; decay: number; sustain: number;
  release: number;
}
export interface Wave { delay: number; hz: number; cents: number; db: number }
export interface Voice {
  keys: [number, number]; velocities: [number, number]; recording: string;
  cents: [number, number]; at: number; loop: [number, number] | null; db: number; pan: number;
  low_pass: { hz: number; db: number; moves?: FilterMoves } | null;
  envelope: Envelope | null; choke: number;
  waves?: Wave[];
}
export interface Preset {
  voices: Voice[];
  levels: { lowest: number; velocities: number[]; gains: number[][] } | null;
}
export interface Sounds {
  font: string;
  pilots: Record<string, string>; pilot_at: number;
  recordings: Record<string, { rate: number; frames: number; data: string }>;
  presets: Record<string, Preset>;
  room: { data: string; scale: number; rate: number };
}

/** One note: written onset, sounding start after it, sounding length, key, velocity; on a neck also
    string, fret, finger, degree, name, written length, move of the hand; a slide, how the pitch moves, and
    what is said over it of that. */
export interface NoteEvent {
  at: number; start: number; length: number; key: number; velocity: number;
  string: number; fret: number; finger: number; degree: string; name: number; written: number;
  move: string; slide: [number, number] | null; curve: PitchCurve | null; said: string;
}
/** A bend, as ticks after the start and half steps; a vibrato, as where it begins, Hz and half steps. */
export type PitchCurve = [[number, number][], [number, number, number, number] | null];
export interface Part {
  name: string; title: string; sound: string; role: string; preset: string; strings: number[]; capo: number;
  level_db: number; pan: number; room: number; shifts: number[]; notes: NoteEvent[];
  is_lead: boolean; rows: unknown[][];
}
export interface Bar {
  at: number; length: number; number: number; form: number; chorus: number; section: string;
  pulses: number[]; chords: { at: number; chord: number; pushed?: string }[]; before: string; behind: string;
}
export interface ChordSpan { at: number; length: number; chord: number; guides: Guide[] }
export interface Guide { degree: string; name: number; pitch: number }
export interface Cue { at: number; length: number; text: string; kind: string }
export interface Question { number: number; at: number; length: number; text: string; answer_at: number; keys: number[] }
export interface System { svg: string; places: [number, number][]; width: number; height: number; bars: [number, number] }
export interface Setting {
  key: string; keys: { name: string; chords: string[]; names: string[]; shapes: number[] }[]; home: number;
  tones: [string, number, number][][];
  tempo: [number, number, number][]; pulses: number; pulse: number; length: number;
  bars: Bar[]; chords: ChordSpan[]; parts: Part[]; cues: Cue[]; questions: Question[];
  tick: { preset: string; accent: [number, number]; plain: [number, number] } | null;
  music: { packed: string } | null;
}
/** A chord's shape: form, position, and string, fret, finger of each note. */
export type Shape = [string, number, [number, number, number][]];
export interface NeckData { strings: number[]; capo: number; frets: number; forms: string[]; sets: Shape[][] }
export interface Lesson {
  title: string; slug: string; feel: string; meter: string; settings: Setting[]; left_handed: boolean;
  tempos: number[]; swing: number; passes: number; neck: NeckData | null;
}
export interface PageData {
  lessons: Lesson[]; sounds: Sounds | null; shifts: number[]; ticks: number;
  words: Record<string, string>; language: string; title: string;
}
