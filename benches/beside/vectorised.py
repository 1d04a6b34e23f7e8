"""The same mapping as plain.py in whole arrays, as fast as NumPy and SciPy allow.

vectorised.py POLSO INSTRUMENT IN.mid OUT.mid. What is not a filter with a fixed time, a curve or a
running sum has no array form, so it leaves out what plain.py leaves out. It also prints how many
seconds the arrays alone took, without reading and writing.
"""

import sys
import time

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.signal import lfilter

import mapping


def smooth_step(u):
    u = np.clip(u, 0.0, 1.0)
    return u * u * (3.0 - 2.0 * u)


def curve(value, x):
    xs, ys = mapping.points(value)
    if ys.count(ys[0]) == len(ys):
        return np.full_like(x, ys[0])
    return PchipInterpolator(xs, ys)(np.clip(x, xs[0], xs[-1]))


def play(wheel, ons, helds, length_s, fields):
    """Level numbers each 20 ms and bends each 5 ms, where they change: (seconds, number) twice."""
    count = round((length_s + 0.5) / mapping.TICK_S)
    now_s = np.arange(count) * mapping.TICK_S
    raw = np.concatenate([[0.0], wheel[:, 1]])[np.searchsorted(wheel[:, 0], now_s, "right")]
    keep = np.exp(-mapping.TICK_S / mapping.POLE_S)
    pole = ([1 - keep], [1, -keep])
    x = lfilter(*pole, lfilter(*pole, raw))
    slow, fast = x[::20], x[::5]
    floor, ceiling = fields["dynamics.floor"], fields["dynamics.ceiling"]
    level = floor + (ceiling - floor) * curve(fields["dynamics.curve"], slow)
    numbers = np.rint(127 * 10 ** (-fields["dynamics.span_db"] * (1 - level) / 40)).astype(int)
    width, rate, share, sharp = 0.0, 0.0, 0.0, 0.0
    left = np.ones_like(fast)
    for place, style in enumerate(fields["vibrato.styles"]):
        crossed = 0.0
        if place < len(fields["vibrato.style_edges"]):
            begin, end = fields["vibrato.style_edges"][place]
            crossed = smooth_step((fast - begin) / (end - begin))
        part = (left - crossed) * curve(fields[f"vibrato.{style}.width_cents"], fast)
        left = crossed
        width = width + part
        rate = rate + part * curve(fields[f"vibrato.{style}.rate_hz"], fast)
        share = share + part * fields[f"vibrato.{style}.share_above"]
        sharp = sharp + part * fields[f"vibrato.{style}.sharpness"]
    per_width = np.divide(1.0, width, out=np.zeros_like(width), where=width > 0)
    rate, share, sharp = rate * per_width, share * per_width, sharp * per_width
    steps_s = now_s[::5]
    held = np.concatenate([[0], helds[:, 1]])[np.searchsorted(helds[:, 0], steps_s, "right")] > 0
    start_s = np.concatenate([[0.0], ons])[np.searchsorted(ons, steps_s, "right")]
    phase = np.cumsum(rate * held * 5 * mapping.TICK_S)
    above = 0.5 + 0.5 * np.sin(2 * np.pi * phase)
    swing = share * above**sharp - (1 - share) * (1 - above) ** sharp
    growth_s = fields["vibrato.growth_ms"] / 1000
    factor = smooth_step((steps_s - start_s - fields["vibrato.onset_ms"] / 1000) / growth_s)
    bends = np.rint(width * factor * swing * held * mapping.STEPS_PER_CENT).astype(int)
    return changes(now_s[::20], numbers), changes(steps_s, np.clip(bends, -8192, 8191) + 8192)


def changes(at_s, numbers):
    is_news = np.concatenate([[True], numbers[1:] != numbers[:-1]])
    return at_s[is_news], numbers[is_news]


def track_bytes(at_s, rows, per_s):
    """A track chunk: five bytes an event, its delta time always two of them."""
    order = np.argsort(at_s, kind="stable")
    ticks = np.rint(at_s[order] * per_s).astype(int)
    delta = np.diff(ticks, prepend=0)
    if delta.max(initial=0) > 0x3FFF:
        raise ValueError("a rest of more than 16383 ticks; this form has two bytes for it")
    data = np.column_stack([0x80 | delta >> 7, delta & 0x7F, rows[order]]).astype(np.uint8)
    body = data.tobytes() + b"\x00\xff\x2f\x00"
    return b"MTrk" + len(body).to_bytes(4, "big") + body


def main():
    polso, name, source, target = sys.argv[1:]
    fields = mapping.instrument(polso, name)
    file, tracks = mapping.read(source)
    per_s = file.ticks_per_beat * 2
    head = (1).to_bytes(2, "big") + len(tracks).to_bytes(2, "big")
    out = [b"MThd\x00\x00\x00\x06" + head + file.ticks_per_beat.to_bytes(2, "big")]
    arrays_s = 0.0
    for track in tracks:
        wheel, notes, helds, ons, held = [], [], [], [], 0
        for at_s, message in mapping.track_events(track, file.ticks_per_beat):
            if message.type == "control_change" and message.control == 1:
                wheel.append((at_s, message.value / 127))
            elif message.type in ("note_on", "note_off"):
                is_on = message.type == "note_on" and message.velocity > 0
                held += 1 if is_on else -1
                helds.append((at_s, held))
                if is_on:
                    ons.append(at_s)
                notes.append((at_s, 0x90 if is_on else 0x80, message.note, message.velocity))
        start_s = time.perf_counter()
        notes, helds = np.array(notes), np.array(helds)
        levels, bends = play(np.array(wheel), np.array(ons), helds, notes[-1, 0], fields)
        arrays_s += time.perf_counter() - start_s
        level_rows = np.column_stack(
            [np.full(len(levels[1]), 0xB0), np.full(len(levels[1]), 11), levels[1]]
        )
        bend_rows = np.column_stack(
            [np.full(len(bends[1]), 0xE0), bends[1] & 0x7F, bends[1] >> 7]
        )
        at_s = np.concatenate([levels[0], bends[0], notes[:, 0]])
        rows = np.vstack([level_rows, bend_rows, notes[:, 1:].astype(int)])
        out.append(track_bytes(at_s, rows, per_s))
    with open(target, "wb") as written:
        written.write(b"".join(out))
    print(f"{arrays_s:.6f}")


main()
