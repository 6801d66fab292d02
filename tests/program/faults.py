"""Faults on purpose, in the finished program: usage faults.py DRIFTGLOW SCENARIO CLOCK [CASE ...]

Files that are cut short, altered, of another kind or of nobody; a grid of air that holds no number; a full
disk, a folder that nobody can write to; a run that is killed; a clock that jumps (CLOCK: the module that makes
it); the extremes of a scenario. Every answer is one
sentence without a name of the program's inside, exit status 2 where the user can mend it and 1 where not, and
nothing half-written. What is checked here is what no other test does: tests/program/{cli,resume,lost}_test.cpp.
"""

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time

PROGRAM, SCENARIO, CLOCK = (os.path.abspath(path) for path in sys.argv[1:4])
RESULTS = ["flight.h5", "report.html", "summary.csv", "summary.json"]
MAPS = ["air.h5", "coil.h5"]
failures = []


def check(right, what):
    if not right:
        failures.append(f"{case.__name__}: {what}")
        print("FAILED:", failures[-1])


def scenario(*changes):
    """The demo, flown for a tenth of a second, with texts replaced in turn."""
    with open(SCENARIO, encoding="utf-8") as file:
        text = file.read()
    short = ["duration: 30 s", "duration: 100 ms", "warmup: 3 s", "warmup: 0 s", "replicates: 24", "replicates: 2"]
    changes = short + list(changes)
    for old, new in zip(changes[::2], changes[1::2]):
        assert old in text, old
        text = text.replace(old, new)
    with open("demo.yaml", "w", encoding="utf-8") as file:
        file.write(text)


def run(arguments, **options):
    return subprocess.run([PROGRAM, *arguments.split()], capture_output=True, text=True, check=False, **options)


def fly(arguments="", **options):
    return run("fly demo.yaml --quiet --out out " + arguments, **options)


def names(folder):
    return sorted(os.listdir(folder)) if os.path.isdir(folder) else []


def refused(ended, status, *words):
    """One sentence that holds the words, and that status."""
    text = ended.stderr
    check(ended.returncode == status, f"exit status {ended.returncode} instead of {status}: {text}")
    lines = text.strip().split("\n")
    check(len(lines) == 1 and len(text) > 20, f"no single sentence: {text!r}")
    for word in words:
        check(re.search(word, text), f"{word!r} is not in {text!r}")
    check(not re.search(r"std::|terminate|what\(\)|H5[A-Z]\w+|exception|HDF5-DIAG", text), f"bare exception: {text}")


def whole(folder="out"):
    check(names(folder) == sorted(RESULTS + MAPS), f"{folder} holds {names(folder)}")


def bytes_of(path):
    with open(path, "rb") as file:
        return file.read()


def put(path, content):
    with open(path, "wb") as file:
        file.write(content)


def flown():
    """A flight in `out`, made once and copied."""
    if not os.path.isdir(KEPT):
        scenario()
        ended = fly()
        assert ended.returncode == 0, ended.stderr
        shutil.copytree("out", KEPT)
        shutil.copy("demo.yaml", KEPT + ".yaml")
    shutil.rmtree("out", ignore_errors=True)
    shutil.copytree(KEPT, "out")
    shutil.copy(KEPT + ".yaml", "demo.yaml")


def spoiled(content):
    """(what, bytes) of a file gone wrong. The flips are spread over the file, its head left alone or not."""
    yield "empty", b""
    yield "cut short", content[: len(content) // 2]
    yield "foreign", b"radius,height,speed\n1,2,3\n" * 40
    yield "zeros", bytes(len(content))
    for part in (0.3, 0.6, 0.9):
        flipped = bytearray(content)
        for at in range(int(part * len(content)), len(content), max(1, len(content) // 50)):
            flipped[at] ^= 0xFF
        yield f"altered from {part}", bytes(flipped)


def results_that_are_not_whole():
    flown()
    good = bytes_of("out/flight.h5")
    for what, content in [*spoiled(good), ("a map", bytes_of("out/coil.h5"))]:
        put("out/flight.h5", content)
        refused(run("show out --quiet --out shown"), 2, r"flight\.h5")
        check(not os.path.exists("shown"), f"{what}: show left files")
        refused(run("join out --quiet --out joined"), 2, r"flight\.h5")
        check(not os.path.exists("joined"), f"{what}: join left files")
        refused(fly("--resume"), 2, r"flight\.h5")
        check(bytes_of("out/flight.h5") == content, f"{what}: the file was touched")
    for what, content in spoiled(good):
        put("study.h5", content)
        refused(run("show study.h5 --quiet --out shown"), 2, r"study\.h5")
    check(not os.path.exists("shown"), "show left files of a study that is none")


def maps_that_are_not_whole():
    flown()
    for name in MAPS:
        good = bytes_of(f"out/{name}")
        # Cut short: cli_test.cpp.
        few = [(what, content) for what, content in spoiled(good) if what in ("foreign", "altered from 0.6")]
        for what, content in [*few, ("a flight", bytes_of("out/flight.h5"))]:
            put(f"out/{name}", content)
            before = {file: bytes_of(f"out/{file}") for file in names("out")}
            ended = fly()
            if ended.returncode == 0:
                # Air of a closed form is not read again but written anew.
                check(name == "air.h5", f"{what}: {name} was taken")
                check(bytes_of(f"out/{name}") != content, f"{what}: {name} was left as it was")
            else:
                refused(ended, 2, re.escape(name))
                check(before == {file: bytes_of(f"out/{file}") for file in names("out")}, f"{what}: files were touched")
        put(f"out/{name}", good)


def maps_that_vanished_or_come_from_another_time():
    """The content decides whether a map is used again, never a file's time; one that is gone is made anew."""
    flown()
    result = bytes_of("out/summary.json")
    for time_of_file in (0, 4102444800):  # 1970, 2100
        for name in MAPS:
            os.utime(f"out/{name}", (time_of_file, time_of_file))
        check(fly().returncode == 0, "maps of another time were refused")
        check(bytes_of("out/summary.json") == result, "maps of another time changed the result")
    os.remove("out/coil.h5")
    check(fly().returncode == 0, "a vanished map was not made anew")
    check(bytes_of("out/summary.json") == result, "a map made anew changed the result")
    whole()


def a_grid_without_numbers():
    grid = "r [m],z [m],u_r [m/s],u_theta [m/s],u_z [m/s],k [m2/s2],epsilon [m2/s3]\n"
    rows = [(r, z) for r in (0.0, 0.05, 0.095) for z in (0.0, 0.16, 0.32)]
    air = [line for line in bytes_of(SCENARIO).decode().split("\n")]
    begin = air.index("air:")
    end = next(i for i in range(begin + 1, len(air)) if air[i] and not air[i].startswith(" "))
    text = "\n".join(air[begin:end]) + "\n"
    for wrong in ("nan", "inf", "-nan", "", "1e999"):
        lines = [f"{r},{z},0,0,{wrong if i == 4 else 1},0.02,0.1" for i, (r, z) in enumerate(rows)]
        with open("air.csv", "w", encoding="utf-8") as file:
            file.write(grid + "\n".join(lines) + "\n")
        scenario(text, "air: {source: gridded, file: air.csv}\n\n")
        refused(fly(), 2, r"air\.csv:6")
        check(names("out") == [], f"{wrong}: files were left")
    os.remove("air.csv")
    refused(fly(), 2, r"air\.csv")


class Tmpfs:
    """A file system of its own; None where this user may not mount."""

    def __init__(self, options):
        self.path = os.path.abspath("mounted")
        self.options = options

    def __enter__(self):
        os.makedirs(self.path)
        done = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", self.options, "tmpfs", self.path], capture_output=True, check=False
        )
        return self.path if done.returncode == 0 else None

    def __exit__(self, *_):
        subprocess.run(["umount", self.path], capture_output=True, check=False)


def a_disk_that_fills_up():
    scenario()
    with Tmpfs("size=200k") as disk:
        if disk is None:
            print("left out: this user may not mount")
            return
        refused(run(f"fly demo.yaml --quiet --out {disk}/out"), 1, "No space left")
        check([n for n in names(f"{disk}/out") if ".part-" in n] == [], "a temporary file was left")
        for name in set(names(f"{disk}/out")) & set(RESULTS):
            check(False, f"{name} was written although the flight failed")


def a_disk_that_cannot_be_written_to():
    scenario()
    with Tmpfs("size=1m,ro") as disk:
        if disk is None:
            print("left out: this user may not mount")
            return
        refused(run(f"fly demo.yaml --quiet --out {disk}/out"), 2, "cannot be written", "--out")


def killed_runs_block_nobody():
    scenario("duration: 100 ms", "duration: 200 s", "replicates: 2", "replicates: 400")
    for how in (signal.SIGKILL, signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        child = subprocess.Popen(
            [PROGRAM, "fly", "demo.yaml", "--quiet", "--out", "out"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        limit = time.monotonic() + 120
        while not os.path.exists("out/air.h5") and child.poll() is None and time.monotonic() < limit:
            time.sleep(0.05)
        refused(run("fly demo.yaml --quiet --out out"), 2, "another run")
        child.send_signal(how)
        err = child.communicate(timeout=120)[1]
        if how in (signal.SIGTERM, signal.SIGINT):
            check(child.returncode == 130, f"{how.name}: exit status {child.returncode}")
        check("terminate" not in err, f"{how.name}: {err}")
        check(not set(names("out")) & {"report.html"} or child.returncode == 130, f"{how.name}: a report of nothing")
        shutil.copy("demo.yaml", "long.yaml")
        scenario("warm-white]", "warm-white]")
        ended = fly()
        check(ended.returncode == 0, f"{how.name}: the next run was refused: {ended.stderr}")
        whole()
        shutil.rmtree("out")
        shutil.copy("long.yaml", "demo.yaml")


def a_clock_that_jumps():
    """Neither results nor progress hang on it, and a run goes on that another time began."""
    flown()
    result = bytes_of("out/summary.json")
    shutil.rmtree("out")
    # A sanitizer wants to be loaded first.
    jumping = {**os.environ, "LD_PRELOAD": CLOCK, "ASAN_OPTIONS": "verify_asan_link_order=0"}
    seen = run("fly demo.yaml --out out", env=jumping)
    check(seen.returncode == 0, f"a jumping clock: {seen.stderr}")
    check(not re.search(r"-\d|nan|inf", seen.stderr), f"progress of a jumping clock: {seen.stderr}")
    whole()
    check(bytes_of("out/summary.json") == result, "a jumping clock changed the result")
    check(fly("--resume").returncode == 0, "a flight of another time was not taken up")


def extremes():
    no_mix = ("    mix: {yellow-green: 8, warm-white: 4}\n", "")
    for changes in (
        ("count: 12", "count: 1", *no_mix),
        ("count: 12", "count: 1000", *no_mix, "radius: 15 mm", "radius: 5 mm", "inner_diameter: 26 mm", "inner_diameter: 8 mm"),
        ("turns: 14", "turns: 1"),
        ("loss_tangent: 0.1 %", "loss_tangent: 0 %"),
    ):
        scenario(*changes)
        ended = fly()
        check(ended.returncode == 0, f"{changes[1]}: {ended.stderr}")
        whole()
    for words, changes in (
        (r"count: value `0`.*from `1` to", ("count: 12", "count: 0", *no_mix)),
        (r"156 % of", ("count: 12", "count: 1000", *no_mix)),
        (r"does not fit the vessel of 190 mm x 320 mm", ("radius: 15 mm", "radius: 100 mm")),
        (r"supply: value `0 V` is out of range; expected a voltage from", ("supply: 24 V", "supply: 0 V")),
        (r"step: value `10 ms` is out of range.*`5 ms`", ("step: 1 ms", "step: 10 ms")),
        (r"1e\+09 steps; expected at most 1e\+08", ("step: 1 ms", "step: 1 us", "duration: 100 ms", "duration: 1000 s")),
        (r"would need .* of memory", ("duration: 100 ms", "duration: 90000 s", "interval: 20 ms", "interval: 1 ms")),
    ):
        scenario(*changes)
        shutil.rmtree("out", ignore_errors=True)
        refused(fly(), 2, words)
        check(not os.path.exists("out"), f"{changes[1]}: a folder was left")
    scenario("inner_diameter: 250 mm", "inner_diameter: 150 mm")
    ended = fly()
    check(ended.returncode == 2, "coils inside the vessel were taken")
    check(ended.stderr.count("inside the vessel's wall of 190 mm inner diameter") == 2, ended.stderr)


CASES = [
    results_that_are_not_whole,
    maps_that_are_not_whole,
    maps_that_vanished_or_come_from_another_time,
    a_grid_without_numbers,
    a_disk_that_fills_up,
    a_disk_that_cannot_be_written_to,
    killed_runs_block_nobody,
    a_clock_that_jumps,
    extremes,
]

if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as home:
        KEPT = os.path.join(home, "kept")
        for case in CASES:
            if sys.argv[4:] and case.__name__ not in sys.argv[4:]:
                continue
            folder = os.path.join(home, case.__name__)
            os.makedirs(folder)
            os.chdir(folder)
            begin = time.monotonic()
            case()
            print(f"{case.__name__}: {time.monotonic() - begin:.1f} s", flush=True)
    sys.exit(1 if failures else 0)
