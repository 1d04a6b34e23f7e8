"""A wheel becomes dynamics and a performed vibrato, as one would write it: a loop over milliseconds.

plain.py POLSO INSTRUMENT IN.mid OUT.mid. It has the model's smoothing (with a fixed time), level,
styles, width, rate, onset and swing. It has no legato modes, no strings, no tails, no chance, no
accents, no doubt about flutter, no budget of messages, and it does not keep what it consumes.
"""

import math
import sys
from bisect import bisect_right

import mido
from scipy.interpolate import PchipInterpolator

import mapping


def smooth_step(u):
    u = min(max(u, 0.0), 1.0)
    return u * u * (3.0 - 2.0 * u)


def curve(value):
    """A monotone cubic, evaluated by its own coefficients: a call of SciPy each time is slower."""
    xs, ys = mapping.points(value)
    terms = PchipInterpolator(xs, ys).c.T.tolist()

    def at(x):
        x = min(max(x, xs[0]), xs[-1])
        place = min(bisect_right(xs, x), len(xs) - 1) - 1
        a, b, c, d = terms[place]
        u = x - xs[place]
        return ((a * u + b) * u + c) * u + d

    return at


def play(events, fields):
    """What goes out: (seconds, message)."""
    styles = fields["vibrato.styles"]
    widths = [curve(fields[f"vibrato.{style}.width_cents"]) for style in styles]
    rates = [curve(fields[f"vibrato.{style}.rate_hz"]) for style in styles]
    shares = [fields[f"vibrato.{style}.share_above"] for style in styles]
    sharps = [fields[f"vibrato.{style}.sharpness"] for style in styles]
    edges = fields["vibrato.style_edges"]
    level_of = curve(fields["dynamics.curve"])
    floor, ceiling = fields["dynamics.floor"], fields["dynamics.ceiling"]
    span_db = fields["dynamics.span_db"]
    onset_s, growth_s = fields["vibrato.onset_ms"] / 1000, fields["vibrato.growth_ms"] / 1000
    keep = math.exp(-mapping.TICK_S / mapping.POLE_S)
    out = []
    raw = first = second = phase = 0.0
    start_s, held, place = 0.0, 0, 0
    sent_level = sent_bend = None
    for tick in range(round((events[-1][0] + 0.5) / mapping.TICK_S)):
        now_s = tick * mapping.TICK_S
        while place < len(events) and events[place][0] <= now_s:
            at_s, message = events[place]
            place += 1
            if message.type == "control_change" and message.control == 1:
                raw = message.value / 127
                continue
            if message.type == "note_on" and message.velocity > 0:
                start_s, held = now_s, held + 1
            elif message.type in ("note_on", "note_off"):
                held -= 1
            if not message.is_meta:
                out.append((at_s, message))
        first += (raw - first) * (1 - keep)
        second += (first - second) * (1 - keep)
        if tick % 20 == 0:
            level = floor + (ceiling - floor) * level_of(second)
            number = round(127 * 10 ** (-span_db * (1 - level) / 40))
            if number != sent_level:
                sent_level = number
                out.append((now_s, mido.Message("control_change", control=11, value=number)))
        if tick % 5 == 0:
            weights, left = [], 1.0
            for begin, end in edges:
                crossed = smooth_step((second - begin) / (end - begin))
                weights.append(left - crossed)
                left = crossed
            weights.append(left)
            parts = [weight * width(second) for weight, width in zip(weights, widths)]
            width = sum(parts)
            bend = 0
            if held and width > 0:
                mix = lambda values: sum(p * value for p, value in zip(parts, values)) / width
                phase += mix([rate(second) for rate in rates]) * 5 * mapping.TICK_S
                share, sharp = mix(shares), mix(sharps)
                above = 0.5 + 0.5 * math.sin(math.tau * phase)
                swing = share * above**sharp - (1 - share) * (1 - above) ** sharp
                factor = smooth_step((now_s - start_s - onset_s) / growth_s)
                bend = round(width * factor * swing * mapping.STEPS_PER_CENT)
            if bend != sent_bend:
                sent_bend = bend
                bend = min(max(bend, -8192), 8191)
                out.append((now_s, mido.Message("pitchwheel", pitch=bend)))
    return out


def main():
    polso, name, source, target = sys.argv[1:]
    fields = mapping.instrument(polso, name)
    file, tracks = mapping.read(source)
    written = mido.MidiFile(ticks_per_beat=file.ticks_per_beat)
    per_s = file.ticks_per_beat * 2
    for track in tracks:
        events = list(mapping.track_events(track, file.ticks_per_beat))
        fresh = mido.MidiTrack()
        last = 0
        for at_s, message in sorted(play(events, fields), key=lambda event: event[0]):
            ticks = round(at_s * per_s)
            fresh.append(message.copy(time=ticks - last))
            last = ticks
        written.tracks.append(fresh)
    written.save(target)


main()
