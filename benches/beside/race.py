"""Polso beside what people would use instead: the same work, one run, one table.

race.py POLSO COST FOLDER. Every command plays the same takes: a moving wheel every 8 ms and phrases
of slurred notes, two a second, of 10 minutes to 4 hours and 1 to 16 tracks; and every one must come to
the same numbers, or the race is off.
"""

import math
import os
import subprocess
import sys
import time

import agreement

HERE = os.path.dirname(os.path.abspath(__file__))
INSTRUMENT = os.path.join(HERE, "even.instrument.toml")
CASE = "moving, performed"
# Minutes and tracks. Less would not be told from the start, and ten hours of bends are more than a
# shaped file may hold.
SIZES = [(10, 1), (10, 4), (10, 16), (60, 1), (240, 1)]
PLAIN_MINUTES_MAX = 60  # of all tracks together; beyond that it would only take longer
TRIES_S = 5.0  # a command that takes less is run three times, and the best counts
START_TRIES = 5


def run(command):
    """Seconds of processor and of waiting, peak MiB and what it printed."""
    # A child of ours would begin with our own peak; time's own is small.
    peak = os.path.join(FOLDER, "peak.txt")
    timed = ["time", "--format=%M", f"--output={peak}", *command]
    start_s = time.perf_counter()
    process = subprocess.Popen(timed, stdout=subprocess.PIPE, text=True)
    said = process.stdout.read()
    # The processor's time is that of time and of its child together.
    _, status, used = os.wait4(process.pid, 0)
    wall_s = time.perf_counter() - start_s
    if status != 0:
        sys.exit(f"{command} ended with {status}")
    with open(peak) as text:
        peak_mib = int(text.read()) / 1024
    return used.ru_utime + used.ru_stime, wall_s, peak_mib, said.strip()


def best(command, tries=3):
    found = run(command)
    if found[0] < TRIES_S:
        found = min([found, *(run(command) for _ in range(tries - 1))])
    return found


def slope(sizes, values):
    """Of the straight line through the logarithms."""
    xs, ys = [math.log(x) for x in sizes], [math.log(y) for y in values]
    x, y = sum(xs) / len(xs), sum(ys) / len(ys)
    return sum((a - x) * (b - y) for a, b in zip(xs, ys)) / sum((a - x) ** 2 for a in xs)


def forms(polso, cost, take):
    """Each form's name, its command, and what it writes."""
    out = {name: os.path.join(FOLDER, f"{name}.mid") for name in ("polso", "midly", "numpy", "plain")}
    beside = lambda script: [sys.executable, f"{HERE}/{script}.py", polso, INSTRUMENT, take]
    shape = [polso, "shape", take, "-o", out["polso"], "-i", INSTRUMENT, "-t", "perform", "--force"]
    return {
        "polso": (shape, out["polso"]),
        "midly, nothing done": ([cost, "copy", take, out["midly"]], out["midly"]),
        "NumPy and SciPy": ([*beside("vectorised"), out["numpy"]], out["numpy"]),
        "plain Python": ([*beside("plain"), out["plain"]], out["plain"]),
    }


def starts(polso, cost):
    """What each form takes for four seconds of music: processor and waiting seconds."""
    take = os.path.join(FOLDER, "start.mid")
    run([cost, "start", take])
    found = {}
    print("| form | start: processor s | wall s | peak MiB |")
    print("| --- | --- | --- | --- |")
    for name, (command, _) in forms(polso, cost, take).items():
        cpu_s, wall_s, peak, _ = best(command, START_TRIES)
        found[name] = cpu_s, wall_s
        print(f"| {name} | {cpu_s:.3f} | {wall_s:.3f} | {peak:.1f} |", flush=True)
    return found


def files(polso, cost, start):
    """The table of whole files; the processor seconds of each form without its start, by size."""
    spent = {}
    columns = ["minutes x tracks", "form", "processor s", "wall s", "peak MiB", "times polso's"]
    print("\n| " + " | ".join(columns) + " |")
    print("| --- | --- | --- | --- | --- | --- |")
    for minutes, tracks in SIZES:
        take = os.path.join(FOLDER, "take.mid")
        run([cost, "take", str(minutes), str(tracks), take])
        first_s, ours, same = None, None, []
        for name, (command, path) in forms(polso, cost, take).items():
            if name == "plain Python" and minutes * tracks > PLAIN_MINUTES_MAX:
                continue
            cpu_s, wall_s, peak, said = best(command)
            cpu_s, wall_s = (max(a - b, 0.001) for a, b in zip((cpu_s, wall_s), start[name]))
            first_s = first_s or cpu_s
            spent.setdefault(name, {})[minutes, tracks] = cpu_s
            arrays = f", arrays alone {float(said):.3f}" if name.startswith("NumPy") else ""
            row = [f"{minutes} x {tracks}", name, f"{cpu_s:.3f}", f"{wall_s:.3f}{arrays}"]
            print("|", " | ".join([*row, f"{peak:.1f}", f"{cpu_s / first_s:.2f}"]), "|", flush=True)
            if name == "polso":
                ours = agreement.outputs(path)
            elif not name.startswith("midly"):
                same.append(agreement.check(ours, agreement.outputs(path)))
        (levels, bends), _ = same[0]
        furthest = max(steps for _, steps in same)
        AGREED.append(f"{minutes} x {tracks}: {levels} levels, {bends} bends, {furthest} steps")
    return spent


def engine(cost):
    """The engine alone, and the floor: nanoseconds a tick, and memory."""
    print("\n| minutes | engine ns a tick | floor ns a tick | ratio | engine peak MiB |")
    print("| --- | --- | --- | --- | --- |")
    minutes, nanoseconds = [1, 10, 60, 600], []
    for count in minutes:
        _, _, peak, said = best([cost, "play", str(count), CASE])
        ours = float(said.split()[0])
        floor = float(best([cost, "floor", str(count)])[3].split()[0])
        nanoseconds.append(ours * count)
        print(f"| {count} | {ours:.1f} | {floor:.1f} | {ours / floor:.2f} | {peak:.1f} |")
    print(f"\nslope of the engine's time, 1 minute to 10 hours: {slope(minutes, nanoseconds):.3f}")


def main():
    polso, cost = sys.argv[1:3]
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores\n")
    spent = files(polso, cost, starts(polso, cost))
    print("\nall forms agree; the furthest bends apart, of 8192 steps to two semitones:")
    print("\n".join(AGREED))
    for name, found in spent.items():
        long = [size for size in found if size[1] == 1 and size[0] >= 10]
        if len(long) > 1:
            steep = slope([minutes for minutes, _ in long], [found[size] for size in long])
            print(f"\nslope of {name}, from 10 minutes on: {steep:.3f}")
    engine(cost)


FOLDER = sys.argv[3]
AGREED = []
main()
