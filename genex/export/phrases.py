"""Every phrase that exporters print for the reader, in one place.

A language is a table with the same keys as ``en``. Signs and musical names (chord symbols, note
names, degrees) are not words and stay as they are.
"""

from __future__ import annotations

from collections.abc import Mapping

from genex.errors import InputError

_ENGLISH = {
    "form": "{form} form",
    "numbered_form": "Form {form}",
    "position": "{ordinal} position",
    "open_position": "Open position",
    "root": "root",
    "other_tone": "other tone",
    "small_fingers": "small number: finger",
    "other_finger": "smaller beside it: finger on the way down",
    "other_finger_in_disc": "(2): finger on the way down",
    "small_degrees": "small sign: degree",
    "small_notes": "small letter: note",
    "chart_as_in": "The chart is that of exercise {number}.",
    "key": "Key",
    "tempo": "Tempo",
    "meter": "Meter",
    "feel": "Feel",
    "major": "major",
    "minor": "minor",
    "ionian": "ionian",
    "dorian": "dorian",
    "phrygian": "phrygian",
    "lydian": "lydian",
    "mixolydian": "mixolydian",
    "aeolian": "aeolian",
    "locrian": "locrian",
    # note values and tab
    "whole": "whole",
    "half": "half",
    "quarter": "quarter",
    "eighth": "eighth",
    "16th": "16th",
    "32nd": "32nd",
    "64th": "64th",
    "dotted_quarter": "dotted quarter",
    "tempo_changes": "{tempo}, changing to {last}",
    "tab_tuning": "Tuning: {pitches} (string {last} to string 1)",
    "tuning": "tuning {strings}",
    "capo": "capo at fret {capo}",
    "capo_counted": "capo at fret {capo}; frets count from the capo",
    "capo_shapes": "under the chords: the shapes to hold with the capo at fret {capo}",
    "capo_held": "held with the capo: {pairs}",
    "capo_held_for": "{shape} for {chord}",
    "capo_short": "capo {capo}",
    "tab_values": "note values",
    "tab_dot": ". = dotted",
    "tab_triplet": "3 = triplet",
    "tab_rest": "r = rest",
    "tab_tie": "~ ( ) = tied",
    "tab_fingers": "under the strings: fingers 1 to 4, 0 = open",
    "tab_pairs": "two together: the thinner string's first",
    "tab_chords": "of a chord from the lowest string up, where they change",
    "tab_strokes": "d u : strum down, up",
    "tab_picked": "d u : pick down, up",
    "tab_legato": "h p : hammer on, pull off",
    "tab_bend": "7b9 : bent to sound like fret 9",
    "tab_release": "r7 : let back",
    "tab_vibrato": "7~ : vibrato",
    "tab_rings": "L : let it ring",
    "tab_roll": "= : roll the finger",
    "tab_shift": "> < : shift the hand up or down the neck",
    "tab_slide": "/ \\ : slide up or down into the note",
    "tab_dead": "x : dead note",
    "tab_accent": "! : accent",
    "tab_staccato": "' : short",
    "tab_ghost": "o : ghost note",
    "tab_degrees": "last row: chord degrees",
    "tab_count": "last row: count",
    "tab_words": "last row: words",
    # the handout
    "chart": "Chart",
    "order_of_sections": "Order: {order}",
    "played_times": "played {count} times",
    "all_played_times": "all of it played {count} times",
    "pushed": "< : the chord comes an eighth before its beat",
    "bars_as_played": "Bar numbers count every pass of a repeat.",
    "shapes": "Shapes",
    "shapes_note": (
        "Number in a circle: degree; dark circle: root; small number: finger, and beside it, "
        "smaller, the one on the way down where it is another. Practise from the "
        "lowest root up to the highest tone, down to the lowest and back up to the lowest root, "
        "every note once a pass."
    ),
    "grips": "Grips in order of play",
    "grips_note": (
        "x: muted string, o: open string; number in a circle: finger, dark circle: root, a bar: one "
        "finger across several strings; number at the side: first fret shown; below: degrees."
    ),
    "grips_again": "A section that comes again has the same grips.",
    "string_muted": "string {string} muted",
    "string_open": "string {string} open",
    "string_stopped": "string {string} fret {fret} finger {finger}",
    "string_unfingered": "string {string} fret {fret}",
    "on_strings": "strings {strings}",
    "grip_signs": "x muted, o open; in the circles fingers, dark the root; bar: one finger across",
    "below_degrees": "below: degrees",
    "bar_over": "small above: bar",
    "below_notes": "below: notes",
    "in_exercise": "in the exercise",
    "exercise": "Exercise",
    "guide": "Guide-tone line",
    "lead": "Line",
    "part_and_name": "{part}: {name}",
    "count_note": "Below the staff: what to count.",
    "line_note": (
        "Above the staff: position of the hand in Roman numerals, > and < where it shifts, = where a "
        "finger rolls; under it the fingers. Below the staff: degrees, guide tones underlined."
    ),
    "words_note": (
        "Above the staff: position of the hand in Roman numerals, > and < where it shifts, = where a "
        "finger rolls; under it the fingers. Below the staff: the words."
    ),
    "signs_note": (
        "H and P: hammer on, pull off; ½ and full: bend by a half or a whole step, back: let it down; "
        "vib.: vibrato."
    ),
    "chords_note": "Above the staff: fingers, the lowest string's at the bottom, where they change.",
    "window_note": (
        "Small necks: the shape in use; disc root, ring guide tone, point other tones of the chord."
    ),
    "resolve": "Resolve",
    "resolve_note": "Square: the guide tone that goes; disc: the one it goes to; both: it stays.",
    "voice_stays": "{a} stays and is {b}",
    "voice_down": "{a} to {b}, {frets} down",
    "voice_up": "{a} to {b}, {frets} up",
    "frets_one": "one fret",
    "frets_more": "{count} frets",
    "also_bars": "also from {bars}",
    "every_chorus_same": "The same in all {count} choruses.",
    "practice": "Practice",
    "where": "Where",
    "frets": "frets {low} to {high}",
    "one_fret": "fret {low}",
    "mostly_at": "first finger mostly at fret {position}",
    "begin": "begins with {start}",
    "start_finger": "finger {finger} on string {string}, fret {fret} ({note})",
    "start_open": "open string {string} ({note})",
    "hand_stays": "the hand stays where it is",
    "hand_shifts": "the hand shifts in {bars}",
    "hand_shifts_often": "the hand shifts {count} times, first in {bars}",
    "rolls": "one finger rolls over two strings in {bars}",
    "rolls_often": "one finger rolls over two strings {count} times, first in {bars}",
    "bar": "bar {bars}",
    "bars": "bars {bars}",
    "and": "and",
    "listen": "Listen for",
    "falls_half": "{a} ({degree_a}) falls a half step to {b} ({degree_b})",
    "falls_whole": "{a} ({degree_a}) falls a whole step to {b} ({degree_b})",
    "rises_half": "{a} ({degree_a}) rises a half step to {b} ({degree_b})",
    "rises_whole": "{a} ({degree_a}) rises a whole step to {b} ({degree_b})",
    "stays": "{a} stays: {degree_a}, then {degree_b}",
    "tempo_steps": "Tempo",
    "tempo_note": (
        "Tick a box for every chorus without a slip, even and relaxed; with a full row go on to "
        "the next tempo. Out of time or tense: one step back."
    ),
    # tasks, drills and calls
    "task": "Your task",
    "given_rhythm": "The rhythm, with notes of your own; slashes stand for any note.",
    "own_ideas": "Room to write an idea down.",
    "choose_from": "Choose from",
    "answers": "Answers",
    "calls": "Listen and play",
    "calls_note": "Write down what you hear, in notes or tab, once you have played it.",
    "turn_announce": "first note: {bars}",
    "turn_listen": "listen: {bars}",
    "turn_play": "play: {bars}",
    "turn_answer": "compare: {bars}",
    "remarks": "Remarks",
    "homework": "Until next time",
    "own_notes": "Notes",
    "care": "Hands and ears",
    "care_note": (
        "Stop when something hurts. Warm up, play slowly first and take breaks; shift the hand "
        "loosely rather than stretch. With pain, numbness or tingling see a clinician before you "
        "play on. Set the volume low before a loop begins and raise it slowly; on headphones keep "
        "it moderate and rest your ears. Your teacher's word goes before this sheet."
    ),
    "page_of": "page {page} of {pages}",
    # the spoken edition
    "numbers": (
        "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen "
        "sixteen seventeen eighteen nineteen twenty"
    ),
    "ordinals": (
        "zeroth first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth "
        "thirteenth fourteenth fifteenth"
    ),
    "flat": "flat",
    "sharp": "sharp",
    "double_flat": "double flat",
    "double_sharp": "double sharp",
    "no_chord": "no chord",
    "over_bass": "{chord} over {bass}",
    "say_finger": "{finger} finger",
    "say_string": "{string} string",
    "say_open": "open {string} string",
    "say_fret": "fret {fret}",
    "say_beat": "beat {beat}",
    "say_dotted": "dotted",
    "say_tuplet_3": "triplet",
    "say_tuplet_5": "quintuplet",
    "say_tuplet_7": "septuplet",
    "say_rest": "rest",
    "say_silent_bar": "rest for the whole bar",
    "say_held": "held on",
    "say_roll": "roll the finger",
    "say_shift": "shift the hand",
    "say_slide_up": "slide up into it",
    "say_slide_down": "slide down into it",
    "say_hammer-on": "hammer on",
    "say_pull-off": "pull off",
    "say_bend_1": "bent up a half step",
    "say_bend_2": "bent up a whole step",
    "say_bend": "bent up {count} half steps",
    "say_release": "and let back",
    "say_vibrato": "with vibrato",
    "say_rings": "let it ring",
    "say_pushed": "an eighth before its beat",
    "say_accent": "accented",
    "say_staccato": "short",
    "say_ghost": "ghost note",
    "say_dead": "dead note",
    "say_together": "together from the lowest string",
    "say_count": "count {count}",
    "say_opens": "a repeat begins",
    "say_closes": "back to where the repeat began",
    "say_times": "{count} times in all",
    "say_segno": "segno",
    "say_coda": "coda",
    "say_ending": "ending {number}",
    "say_to": " to ",
    "say_numbers": "Numbers {first} to {last}: write an answer for each.",
    "say_neck": "string {string}: frets {frets}",
    "say_tempo": "{count} {value} notes a minute",
    "spoken_note": (
        "A note value holds within its bar until another one is named. Strings count from the "
        "thinnest, the first, to the thickest; fingers from the index, the first, to the little one, "
        "the fourth."
    ),
    "empty_staves": "empty staves",
    "rhythm_of": "Rhythm {letter}",
    # the chord-type book
    "book_title": "Chord shapes",
    "contents": "Contents",
    "index": "Index",
    "how_to_read": "How to read this book",
    "book_note": (
        "Each chord has two facing pages: its shapes over the neck on the left, the practice path "
        "of every shape in notation and tab on the right."
    ),
    "lessons_one": "{count} lesson",
    "lessons_more": "{count} lessons",
    "colophon": "Colophon",
    "chords_one": "{count} chord",
    "chords_more": "{count} chords",
    "for_left_hand": "drawn for left-handed players",
    "book_made": "Made with genex; set in Linux Libertine and DejaVu Sans.",
    "same_tones": "Same tones",
    "paths": "Practice paths",
    "tones": "Tones",
    "degrees": "Degrees",
    "also_called": "Also called",
    "also_written": "Also written",
}

LANGUAGES: dict[str, Mapping[str, str]] = {"en": _ENGLISH}


def words(language: str = "en") -> Mapping[str, str]:
    """The phrases of a language. Raises InputError for one that is not there."""
    try:
        return LANGUAGES[language]
    except KeyError:
        raise InputError(
            f"there are no texts in the language '{language}'",
            hint=f"write one of: {', '.join(LANGUAGES)}",
        ) from None
