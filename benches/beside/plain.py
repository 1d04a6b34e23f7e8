"""A wheel becomes dynamics and a performed vibrato, as one would write it: a loop over milliseconds.

plain.py POLSO INSTRUMENT IN.mid OUT.mid. It makes of the take what Polso makes of it with the
instrument beside, and nothing that this does not need: no legato modes, no strings, no tails, no
chance, no accents, no budget of messages, and it does not keep what it consumes.
"""

import math
import sys
from bisect import bisect_right

import mido
from scipy.interpolate import PchipInterpolator

import mapping
from mapping import BEND_TICKS, LEVEL_LOOK_TICKS, LEVEL_TICKS, TICK_S


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


def gestures(events):
    """The smoothed gesture at each millisecond."""
    wheel = [(at_s, message.value) for at_s, message in events if mapping.is_wheel(message)]
    path = mapping.lines(wheel)
    begin, end, start, slope, goal = next(path)
    coming = next(path, None)
    first = second = goal
    remembered = 0.0
    for tick in range(round((events[-1][0] + 0.5) / TICK_S)):
        now_s = tick * TICK_S
        while coming and coming[0] <= now_s:
            (begin, end, start, slope, goal), coming = coming, next(path, None)
        place, speed = (start + slope * (now_s - begin), abs(slope)) if now_s < end else (goal, 0.0)
        remembered = max(speed, remembered + (speed - remembered) * mapping.SPEED_FALL)
        nimbleness = 1.0 + (remembered / mapping.TURN_PER_S) ** 2
        half_s = 0.5 * (mapping.FAST_S + (mapping.SLOW_S - mapping.FAST_S) / nimbleness)
        share = 1.0 - math.exp(-TICK_S / half_s)
        first += share * (place - first)
        second += share * (first - second)
        yield now_s, second


class Swing:
    """The vibrato: a step every five milliseconds."""

    def __init__(self, fields):
        styles = fields["vibrato.styles"]
        of = lambda name: [fields[f"vibrato.{style}.{name}"] for style in styles]
        self.widths, self.rates = ([curve(v) for v in of(n)] for n in ("width_cents", "rate_hz"))
        self.shares, self.sharps = of("share_above"), of("sharpness")
        self.edges = fields["vibrato.style_edges"]
        self.onset_s = mapping.MIDDLING_PACE * fields["vibrato.onset_ms"] / 1000
        self.growth_s = fields["vibrato.growth_ms"] / 1000
        self.start_s, self.released_s = math.inf, -math.inf
        self.turn = self.first_turn = self.rate = 0.0
        self.is_on = False

    def begin(self, now_s):
        self.start_s, self.released_s = now_s + self.onset_s, math.inf

    def blend(self, x):
        weights, left = [], 1.0
        for begin, end in self.edges:
            crossed = smooth_step((x - begin) / (end - begin))
            weights.append(left - crossed)
            left = crossed
        weights.append(left)
        parts = [weight * width(x) for weight, width in zip(weights, self.widths)]
        width = sum(parts)
        if width == 0.0:
            return 0.0, self.rates[1](x), self.shares[1], self.sharps[1]
        mix = lambda values: sum(part * value for part, value in zip(parts, values)) / width
        return width, mix([rate(x) for rate in self.rates]), mix(self.shares), mix(self.sharps)

    def step(self, now_s, x):
        """Cents from the note."""
        if self.is_on:
            self.turn += self.rate * BEND_TICKS * TICK_S
        width, rate, share, sharp = self.blend(x)
        fade = 1.0 - smooth_step((now_s - self.released_s) / mapping.RELEASE_S)
        factor = smooth_step((now_s - self.start_s) / self.growth_s) * fade
        if factor > 0.0 and not self.is_on:
            ratio = ((1.0 - share) / share) ** (1.0 / sharp)
            self.first_turn = math.asin(2.0 * ratio / (1.0 + ratio) - 1.0) / math.tau
            self.turn = (now_s - self.start_s) * self.rate
        self.is_on, self.rate = factor > 0.0, rate
        if not self.is_on:
            return 0.0
        above = 0.5 + 0.5 * math.sin(math.tau * (self.turn + self.first_turn))
        return width * factor * (share * above**sharp - (1.0 - share) * (1.0 - above) ** sharp)


class Level:
    """The level's numbers: every 20 ms, and at a note's beginning."""

    def __init__(self, fields):
        self.of = curve(fields["dynamics.curve"])
        self.floor, self.ceiling = fields["dynamics.floor"], fields["dynamics.ceiling"]
        self.span_db = fields["dynamics.span_db"]
        self.sent, self.free_tick, self.look_tick = None, 0, 0

    def look(self, tick, x, is_note):
        """The number to send at this tick, if any."""
        if not is_note and tick < self.look_tick:
            return None
        self.look_tick = tick + LEVEL_LOOK_TICKS
        level = self.floor + (self.ceiling - self.floor) * self.of(x)
        number = math.floor(127 * 10 ** (-self.span_db * (1 - level) / 40) + 0.5)
        if number == self.sent or not is_note and tick < self.free_tick:
            return None
        self.sent = number
        self.free_tick = self.look_tick = tick + LEVEL_TICKS
        return number


def play(events, fields):
    """What goes out: (seconds, message)."""
    swing, level = Swing(fields), Level(fields)
    out = []
    held, place, sent_bend, x = 0, 0, None, None
    notes = [event for event in events if not mapping.is_wheel(event[1]) and not event[1].is_meta]
    for tick, (now_s, gesture) in enumerate(gestures(events)):
        while place < len(notes) and notes[place][0] <= now_s:
            at_s, message = notes[place]
            place += 1
            if mapping.is_on(message):
                if held == 0:
                    swing.begin(at_s)
                held += 1
                number = level.look(tick, gesture if x is None else x, True)
                if number is not None:
                    out.append((at_s, mido.Message("control_change", control=11, value=number)))
            else:
                held -= 1
                if held == 0:
                    swing.released_s = at_s
            out.append((at_s, message))
        x = gesture
        number = level.look(tick, x, False)
        if number is not None:
            out.append((now_s, mido.Message("control_change", control=11, value=number)))
        if tick % BEND_TICKS == 0:
            bend = math.floor(swing.step(now_s, x) * mapping.STEPS_PER_CENT + 0.5)
            bend = min(max(bend, -8192), 8191)
            if bend != sent_bend:
                sent_bend = bend
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
