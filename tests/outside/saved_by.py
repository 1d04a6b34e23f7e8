"""Reads MIDI files and saves them again, as other people's programs do.

With and without the events that only say something, at other resolutions, in one track. Called
with a reader's name and a folder: every FILE.mid there becomes FILE.VARIANT.saved, a variant for
each way in which that reader can save. One process a reader, as loading it takes longer than saving
with it. What a reader cannot read or save it names on standard output, one line each.
"""

import subprocess
import sys
from pathlib import Path

# Which events are gone: none, those of sequencers, the words, all of them.
LOSSES = {
    "whole": (),
    "no-records": ("sequencer_specific",),
    "no-words": ("text", "marker"),
    "bare": ("sequencer_specific", "text", "marker", "cue_marker", "lyrics"),
}
# Ticks of a quarter note beside the file's own.
OTHER_TICKS = (1920, 480, 384, 220)


def by_mido(path):
    """Every loss at the file's own resolution and at another one, in its tracks or in one, by turns."""
    import mido

    turn = int(path.stem)

    file = mido.MidiFile(path)
    for loss, kinds in LOSSES.items():
        tracks = [[] for _ in file.tracks]
        for place, track in enumerate(file.tracks):
            tick = 0
            for message in track:
                tick += message.time
                if message.type not in kinds:
                    tracks[place].append((tick, message))
        turn += 1
        for place, ticks in enumerate((file.ticks_per_beat, OTHER_TICKS[turn % len(OTHER_TICKS)])):
            is_merged = turn // len(OTHER_TICKS) % 2 == place
            saved = mido.MidiFile(type=0 if is_merged else file.type, ticks_per_beat=ticks)
            saved.tracks = [timed(mido, one, ticks / file.ticks_per_beat) for one in tracks]
            if is_merged:
                saved.tracks = [mido.merge_tracks(saved.tracks)]
            name = "own" if place == 0 else ticks
            yield f"{loss}.{name}{'.merged' if is_merged else ''}", saved.save


def timed(mido, events, factor):
    track, before = mido.MidiTrack(), 0
    for tick, message in events:
        now = round(tick * factor)
        track.append(message.copy(time=now - before))
        before = now
    return track


def by_pretty_midi(path):
    import pretty_midi

    file = pretty_midi.PrettyMIDI(str(path))
    yield "own", lambda to: file.write(str(to))
    if len(file.get_tempo_changes()[0]) > 1:
        return
    other = pretty_midi.PrettyMIDI(resolution=220, initial_tempo=file.get_tempo_changes()[1][0])
    other.instruments = file.instruments
    yield "220", lambda to: other.write(str(to))


def by_symusic(path):
    import symusic

    file = symusic.Score(str(path))
    yield "own", lambda to: file.dump_midi(str(to))
    for ticks in OTHER_TICKS:
        other = file.resample(ticks, 1)
        yield str(ticks), lambda to, other=other: other.dump_midi(str(to))


def by_music21(path):
    import music21

    for name, is_quantized in (("own", False), ("quantized", True)):
        parsed = music21.converter.parse(str(path), quantizePost=is_quantized, forceSource=True)
        yield name, lambda to, parsed=parsed: parsed.write("midi", fp=str(to))


CSV_KINDS = {
    "whole": (),
    "no-records": ("Sequencer_specific",),
    "no-words": ("Text_t", "Marker_t"),
    "bare": ("Sequencer_specific", "Text_t", "Marker_t", "Cue_point_t", "Lyric_t"),
}


def by_midicsv(path):
    table = subprocess.run(["midicsv", path], stdout=subprocess.PIPE, check=True).stdout
    lines = table.splitlines(keepends=True)
    for loss, kinds in CSV_KINDS.items():
        kinds = [kind.encode() for kind in kinds]
        kept = [line for line in lines if line.split(b", ", 3)[2].strip() not in kinds]

        def save(to, kept=kept):
            with open(to, "wb") as out:
                subprocess.run(["csvmidi"], input=b"".join(kept), stdout=out, check=True)

        yield loss, save


READERS = {
    "mido": by_mido,
    "pretty_midi": by_pretty_midi,
    "symusic": by_symusic,
    "music21": by_music21,
    "midicsv": by_midicsv,
}


def main():
    reader, folder = READERS[sys.argv[1]], Path(sys.argv[2])
    for path in sorted(folder.glob("*.mid")):
        try:
            for variant, save in reader(path):
                save(path.with_name(f"{path.stem}.{variant}.saved"))
        except Exception as error:
            print(f"{path.name}: {type(error).__name__}: {error}")


main()
