"""Polso beside what people would use instead: one run, one table.

race.py POLSO COST FOLDER. Every command plays the same takes: a moving wheel every 8 ms and two
slurred notes a second, of 1 minute to 10 hours and 1 to 16 tracks.
"""

import math
import os
import subprocess
import sys
import time

HERE = os.path.dirname(os.path.abspath(__file__))
CASE = "moving, performed"
SIZES = [(1, 1), (1, 4), (1, 16), (10, 1), (10, 4), (10, 16), (60, 1), (600, 1)]
PLAIN_MINUTES_MAX = 60  # of all tracks together; beyond that it would only take longer
PERFORM_MINUTES_MAX = 300  # ten hours of bends are more than a shaped file may hold
TRIES_S = 5.0  # a command that takes less is run three times, and the best counts


def run(command):
    """Seconds of processor and of waiting, peak MiB and what it printed."""
    start_s = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    said = process.stdout.read()
    _, status, used = os.wait4(process.pid, 0)
    wall_s = time.perf_counter() - start_s
    if status != 0:
        sys.exit(f"{command} ended with {status}")
    return used.ru_utime + used.ru_stime, wall_s, used.ru_maxrss / 1024, said.strip()


def best(command):
    found = run(command)
    if found[0] < TRIES_S:
        found = min([found, run(command), run(command)])
    return found


def slope(sizes, values):
    """Of the straight line through the logarithms."""
    xs, ys = [math.log(x) for x in sizes], [math.log(y) for y in values]
    x, y = sum(xs) / len(xs), sum(ys) / len(ys)
    return sum((a - x) * (b - y) for a, b in zip(xs, ys)) / sum((a - x) ** 2 for a in xs)


def files(polso, cost, folder):
    """The table of whole files; the processor seconds of each form, by size."""
    spent = {}
    print("| minutes x tracks | form | processor s | wall s | peak MiB | times polso's processor |")
    print("| --- | --- | --- | --- | --- | --- |")
    for minutes, tracks in SIZES:
        take, out = (os.path.join(folder, name) for name in ("take.mid", "out.mid"))
        run([cost, "take", str(minutes), str(tracks), take])
        receiver = "perform" if minutes <= PERFORM_MINUTES_MAX else "generic"
        ours = f"polso, {receiver}"
        forms = {
            ours: [polso, "shape", take, "-o", out, "-i", "erhu", "-t", receiver, "--force"],
            "midly, nothing done": [cost, "copy", take, out],
            "NumPy and SciPy": [sys.executable, f"{HERE}/vectorised.py", polso, "erhu", take, out],
        }
        if minutes * tracks <= PLAIN_MINUTES_MAX:
            forms["plain Python"] = [sys.executable, f"{HERE}/plain.py", polso, "erhu", take, out]
        first_s = None
        for name, command in forms.items():
            cpu_s, wall_s, peak, said = best(command)
            first_s = first_s or cpu_s
            spent.setdefault(name.split(",")[0], {})[minutes, tracks] = cpu_s
            arrays = f", arrays alone {float(said):.3f}" if name.startswith("NumPy") else ""
            row = [f"{minutes} x {tracks}", name, f"{cpu_s:.3f}", f"{wall_s:.3f}{arrays}"]
            print("|", " | ".join([*row, f"{peak:.1f}", f"{cpu_s / first_s:.2f}"]), "|", flush=True)
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
    polso, cost, folder = sys.argv[1:]
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores\n")
    spent = files(polso, cost, folder)
    for name, found in spent.items():
        long = [size for size in found if size[1] == 1 and size[0] >= 10]
        if len(long) > 1:
            steep = slope([minutes for minutes, _ in long], [found[size] for size in long])
            print(f"\nslope of {name}, from 10 minutes on: {steep:.3f}")
    engine(cost)


main()
