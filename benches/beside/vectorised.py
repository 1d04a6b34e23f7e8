"""The same mapping as plain.py in whole arrays, as fast as NumPy and SciPy allow.

vectorised.py POLSO INSTRUMENT IN.mid OUT.mid. Only what goes from one event of the take to the next,
or from one message to the next, is a loop. It also prints how many seconds the arrays alone took,
without reading and writing.
"""

import sys
import time

import numpy as np
from scipy.interpolate import PchipInterpolator

import mapping
from mapping import BEND_TICKS, LEVEL_LOOK_TICKS, LEVEL_TICKS, TICK_S

BLOCK = 64  # ticks of which a pole is one product: a longer block would lose digits


def smooth_step(u):
    u = np.clip(u, 0.0, 1.0)
    return u * u * (3.0 - 2.0 * u)


def curve(value, x):
    xs, ys = mapping.points(value)
    if ys.count(ys[0]) == len(ys):
        return np.full_like(x, ys[0])
    return PchipInterpolator(xs, ys)(np.clip(x, xs[0], xs[-1]))


def remembered(speeds):
    """A speed that rises at once and falls slowly, piece by piece of an even speed."""
    is_new = np.concatenate([[True], speeds[1:] != speeds[:-1]])
    firsts = np.flatnonzero(is_new)
    counts = np.diff(firsts, append=len(speeds))
    keep = 1.0 - mapping.SPEED_FALL
    falls = keep ** counts
    starts, last = np.empty(len(firsts)), 0.0
    for piece, (speed, fall) in enumerate(zip(speeds[firsts].tolist(), falls.tolist())):
        starts[piece] = last
        last = speed + max(last - speed, 0.0) * fall
    age = np.arange(1, len(speeds) + 1) - np.repeat(firsts, counts)
    return speeds + np.maximum(np.repeat(starts, counts) - speeds, 0.0) * keep**age


def pole(x, share, start):
    """One pole whose time changes: in blocks, each a running sum of what it has forgotten."""
    count = len(x)
    room = -count % BLOCK
    x, share = np.pad(x, (0, room)), np.pad(share, (0, room))
    left = np.cumprod((1.0 - share).reshape(-1, BLOCK), axis=1)
    added = left * np.cumsum((share * x).reshape(-1, BLOCK) / left, axis=1)
    starts, last = np.empty(len(left)), start
    for block, (keeps, adds) in enumerate(zip(left[:, -1].tolist(), added[:, -1].tolist())):
        starts[block] = last
        last = last * keeps + adds
    return (left * starts[:, None] + added).ravel()[:count]


def gestures(wheel, now_s):
    """The smoothed gesture at each millisecond."""
    begin, end, start, slope, goal = np.array(list(mapping.lines(wheel))).T
    line = np.searchsorted(begin, now_s, "right") - 1
    is_moving = now_s < end[line]
    age_s = np.where(is_moving, now_s - begin[line], 0.0)
    place = np.where(is_moving, start[line] + slope[line] * age_s, goal[line])
    speed = remembered(np.where(is_moving, np.abs(slope[line]), 0.0))
    nimbleness = 1.0 + (speed / mapping.TURN_PER_S) ** 2
    half_s = 0.5 * (mapping.FAST_S + (mapping.SLOW_S - mapping.FAST_S) / nimbleness)
    share = -np.expm1(-TICK_S / half_s)
    return pole(pole(place, share, goal[0]), share, goal[0])


def levels(x, on_s, fields):
    """Times and numbers of the level: every 20 ms, and at a note's beginning."""
    floor, ceiling = fields["dynamics.floor"], fields["dynamics.ceiling"]
    level = floor + (ceiling - floor) * curve(fields["dynamics.curve"], x)
    numbers = np.floor(127 * 10 ** (-fields["dynamics.span_db"] * (1 - level) / 40) + 0.5)
    numbers = numbers.astype(int).tolist()
    on_ticks = np.ceil(on_s / TICK_S - 1e-9).astype(int).tolist() + [len(x)]
    out, sent, free, look, note = [], None, 0, 0, 0
    while min(look, on_ticks[note]) < len(x):
        is_note = on_ticks[note] <= look
        tick = on_ticks[note] if is_note else look
        at_s = on_s[note] if is_note else tick * TICK_S
        note += is_note
        # A note finds the level of the tick before it.
        number = numbers[max(tick - is_note, 0)]
        look = tick + LEVEL_LOOK_TICKS
        if number != sent and (is_note or tick >= free):
            sent, free, look = number, tick + LEVEL_TICKS, tick + LEVEL_TICKS
            out.append((at_s, number))
    return np.array(out).T


def bends(x, now_s, phrases, fields):
    """The bend every 5 ms; `phrases` are times of the first on and the last off."""
    width, rate, share, sharp = 0.0, 0.0, 0.0, 0.0
    left = np.ones_like(x)
    for place, style in enumerate(fields["vibrato.styles"]):
        crossed = 0.0
        if place < len(fields["vibrato.style_edges"]):
            begin, end = fields["vibrato.style_edges"][place]
            crossed = smooth_step((x - begin) / (end - begin))
        part = (left - crossed) * curve(fields[f"vibrato.{style}.width_cents"], x)
        left = crossed
        width = width + part
        rate = rate + part * curve(fields[f"vibrato.{style}.rate_hz"], x)
        share = share + part * fields[f"vibrato.{style}.share_above"]
        sharp = sharp + part * fields[f"vibrato.{style}.sharpness"]
    is_wide = width > 0
    per_width = np.divide(1.0, width, out=np.zeros_like(width), where=is_wide)
    usual = fields["vibrato.styles"][1]
    rate = np.where(is_wide, rate * per_width, curve(fields[f"vibrato.{usual}.rate_hz"], x))
    share = np.where(is_wide, share * per_width, fields[f"vibrato.{usual}.share_above"])
    sharp = np.where(is_wide, sharp * per_width, fields[f"vibrato.{usual}.sharpness"])
    onset_s = mapping.MIDDLING_PACE * fields["vibrato.onset_ms"] / 1000
    phrase = np.maximum(np.searchsorted(phrases[:, 0], now_s, "right") - 1, 0)
    starts_s = phrases[:, 0] + onset_s
    grown = smooth_step((now_s - starts_s[phrase]) / (fields["vibrato.growth_ms"] / 1000))
    factor = grown * (1.0 - smooth_step((now_s - phrases[phrase, 1]) / mapping.RELEASE_S))
    is_on = factor > 0
    # Where each phrase's vibrato begins, it begins on the note.
    firsts = np.flatnonzero(is_on & ~np.concatenate([[False], is_on[:-1]]))
    ratio = ((1.0 - share[firsts]) / share[firsts]) ** (1.0 / sharp[firsts])
    rising = np.arcsin(2.0 * ratio / (1.0 + ratio) - 1.0) / (2 * np.pi)
    begun = (now_s[firsts] - starts_s[phrase[firsts]]) * rate[firsts] + rising
    turned = np.concatenate([[0.0], np.cumsum(rate[:-1])]) * BEND_TICKS * TICK_S
    own = np.maximum(np.searchsorted(firsts, np.arange(len(x)), "right") - 1, 0)
    turn = turned - turned[firsts][own] + begun[own]
    above = 0.5 + 0.5 * np.sin(2 * np.pi * turn)
    swing = share * above**sharp - (1 - share) * (1 - above) ** sharp
    cents = np.where(is_on, width * factor * swing, 0.0)
    bends = np.floor(cents * mapping.STEPS_PER_CENT + 0.5).astype(int)
    is_news = np.concatenate([[True], bends[1:] != bends[:-1]])
    return now_s[is_news], np.clip(bends[is_news], -8192, 8191) + 8192


def play(wheel, notes, length_s, fields):
    """Levels and bends, each as times and numbers."""
    now_s = np.arange(round((length_s + 0.5) / TICK_S)) * TICK_S
    x = gestures(wheel, now_s)
    held = np.cumsum(np.where(notes[:, 1] == 0x90, 1, -1))
    is_first = (held == 1) & (notes[:, 1] == 0x90)
    phrases = np.column_stack([notes[is_first, 0], notes[held == 0, 0]])
    on_s = notes[notes[:, 1] == 0x90, 0]
    return levels(x, on_s, fields), bends(x[::BEND_TICKS], now_s[::BEND_TICKS], phrases, fields)


def track_bytes(at_s, rows, per_s):
    """A track chunk: each event with as many bytes of delta time as it needs, up to three."""
    order = np.argsort(at_s, kind="stable")
    ticks = np.rint(at_s[order] * per_s).astype(int)
    delta = np.diff(ticks, prepend=0)
    data = np.column_stack([0x80 | delta >> 14, 0x80 | delta >> 7 & 0x7F, delta & 0x7F, rows[order]])
    is_sent = np.ones(data.shape, bool)
    is_sent[:, 0], is_sent[:, 1] = delta >= 1 << 14, delta >= 1 << 7
    body = data[is_sent].astype(np.uint8).tobytes() + b"\x00\xff\x2f\x00"
    return b"MTrk" + len(body).to_bytes(4, "big") + body


def rows(status, first, second):
    return np.column_stack([np.full(len(first), status), first, second])


def main():
    polso, name, source, target = sys.argv[1:]
    fields = mapping.instrument(polso, name)
    file, tracks = mapping.read(source)
    per_s = file.ticks_per_beat * 2
    head = (1).to_bytes(2, "big") + len(tracks).to_bytes(2, "big")
    out = [b"MThd\x00\x00\x00\x06" + head + file.ticks_per_beat.to_bytes(2, "big")]
    arrays_s = 0.0
    for track in tracks:
        wheel, notes, channel, length_s = [], [], 0, 0.0
        for at_s, message in mapping.track_events(track, file.ticks_per_beat):
            length_s = at_s
            if mapping.is_wheel(message):
                wheel.append((at_s, message.value))
            elif message.type in ("note_on", "note_off"):
                channel = message.channel
                status = 0x90 if mapping.is_on(message) else 0x80
                notes.append((at_s, status, message.note, message.velocity))
        start_s = time.perf_counter()
        notes = np.array(notes)
        (level_s, level), (bend_s, bend) = play(wheel, notes, length_s, fields)
        arrays_s += time.perf_counter() - start_s
        level, heard = level.astype(int), notes.astype(int)
        parts = [
            rows(0xB0 | channel, np.full(len(level), 11), level),
            rows(0xE0 | channel, bend & 0x7F, bend >> 7),
            np.column_stack([heard[:, 1] | channel, heard[:, 2:]]),
        ]
        at_s = np.concatenate([level_s, bend_s, notes[:, 0]])
        out.append(track_bytes(at_s, np.vstack(parts), per_s))
    with open(target, "wb") as written:
        written.write(b"".join(out))
    print(f"{arrays_s:.6f}")


main()
