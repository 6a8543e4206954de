"""How many mutants of physics, extract and reason the tests kill: a random sample of those that mutmut made.

    python tests/benchmarks/mutation_score.py CLONE --seed 4 --physics 90 --extract 110 --reason 150 --minutes 60

CLONE is a clone of this repository in which `mutmut run NAME` was called once, so that `mutants/` holds the mutants and
which test runs which function. Each mutant is run in a process of its own: the tests that are about it first and, where
it survives them, all others that reach it. A mutant that no test reaches counts as not killed, and so does one that
survived the first tests when the minutes are over. A test kills only if it passes without the mutant. One line per run
goes to CLONE/mutants/sample.jsonl; what it holds is not run again.
"""

import argparse
import contextlib
import json
import math
import os
import resource
import signal
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

ROOMS = ("physics", "extract", "reason")
QUICK_S, FIRST = 1.0, 30
"""Of the tests that reach a function, so many that reach the fewest others, and take no longer, are run first."""

PYTEST = ("-x", "-q", "--rootdir=.", "-p", "no:cacheprovider", "--hypothesis-seed=0")
LEAST_CPU_S, CPU_TIMES = 10, 3
"""A mutant that computes three times as long as its tests took, and ten seconds, runs for ever: killed."""


def drawn(clone: Path, counts: dict[str, int], seed: int) -> list[str]:
    """Names of mutants, so many of each room, in random order."""
    rng = np.random.default_rng(seed)
    names = []
    for room in ROOMS:
        made = sorted(
            name
            for meta in (clone / "mutants" / "hotspot" / room).glob("*.meta")
            for name in json.loads(meta.read_text(encoding="utf-8"))["exit_code_by_key"]
        )
        names += list(rng.choice(made, min(counts[room], len(made)), replace=False))
        print(f"{room}: {len(made)} mutants")
    return [str(name) for name in rng.permutation(names)]


def loaded(mutants: Path, tests: set[str]) -> None:
    """Import, once for all mutants, what the tests import; no mutant is chosen yet."""
    import pytest

    os.environ["MUTANT_UNDER_TEST"] = ""
    os.chdir(mutants)
    sys.path.insert(0, str(mutants))
    with open(os.devnull, "w") as nowhere, contextlib.redirect_stdout(nowhere):
        pytest.main([*PYTEST, "--collect-only", *sorted({test.partition("::")[0] for test in tests})])


class Noted:
    """The first test that failed, for the process that waits."""

    def __init__(self, into: int) -> None:
        self.into = into

    def pytest_runtest_logreport(self, report) -> None:
        if report.failed:
            os.write(self.into, report.nodeid.encode() + b"\n")


def ended(mutant: str, tests: list[str], seconds: float) -> tuple[str, str]:
    """(killed, endless or survived, the test that failed): the tests run on one mutant in a process of its own."""
    failed, into = os.pipe()
    child = os.fork()
    if child == 0:
        limit = int(LEAST_CPU_S + CPU_TIMES * seconds)
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
        os.environ["MUTANT_UNDER_TEST"] = mutant
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        import pytest

        os._exit(int(pytest.main([*PYTEST, *tests], plugins=[Noted(into)])))
    os.close(into)
    with os.fdopen(failed, encoding="utf-8") as pipe:
        test = pipe.readline().rstrip("\n")
        pipe.read()
    status = os.waitpid(child, 0)[1]
    if os.WIFSIGNALED(status):
        return ("endless" if os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL) else "killed"), test
    code = os.WEXITSTATUS(status)
    if code in (4, 5):
        raise SystemExit(f"{mutant}: its tests could not be run (pytest gave {code})")
    return ("killed" if code else "survived"), test


def held(mutant: str, tests: list[str], failed: str, sound: set[str]) -> None:
    """Raises SystemExit where what failed on a mutant fails on the program as it is."""
    asked = [failed] if failed else tests
    if sound.issuperset(asked):
        return
    if ended("", asked, 600.0)[0] != "survived":
        raise SystemExit(f"{mutant}: {failed or 'its tests'} failed without it as well")
    sound.update(asked)


def wilson(killed: int, count: int) -> tuple[float, float]:
    """95 % interval of a share (E. B. Wilson, Journal of the American Statistical Association 22:209, 1927)."""
    z, p = 1.96, killed / count
    middle, half = p + z * z / (2 * count), z * math.sqrt(p * (1 - p) / count + z * z / (4 * count * count))
    return (middle - half) / (1 + z * z / count), (middle + half) / (1 + z * z / count)


def run(clone: Path, names: list[str], until: float) -> dict[str, str]:
    stats = json.loads((clone / "mutants" / "mutmut-stats.json").read_text(encoding="utf-8"))
    took, reached = stats["duration_by_test"], stats["tests_by_mangled_function_name"]
    functions = {name: reached.get(name.rpartition("__mutmut_")[0], ()) for name in names}
    loaded(clone / "mutants", {test for whole in functions.values() for test in whole})
    found, sound = dict.fromkeys(names, "not run"), set()
    kept = clone / "mutants" / "sample.jsonl"
    rows = [json.loads(line) for line in kept.read_text(encoding="utf-8").splitlines()] if kept.exists() else []
    done = {(row["mutant"], row["again"]): row["ended"] for row in rows}
    wide = Counter(test for whole in reached.values() for test in whole)
    with kept.open("a", encoding="utf-8") as lines:
        for again in (False, True):
            for name in names:
                if (name, again) in done:
                    found[name] = done[name, again]
                    continue
                whole = sorted(functions[name], key=lambda test: (wide[test], test))
                first = [test for test in whole if took.get(test, 0.0) <= QUICK_S][:FIRST]
                tests = [test for test in whole if test not in first] if again else first
                if time.time() > until or found[name] in ("killed", "endless"):
                    continue
                if not tests:
                    found[name] = "survived" if whole else "no test"
                    continue
                found[name], failed = ended(name, tests, sum(took.get(test, 0.0) for test in tests))
                if found[name] == "killed":
                    held(name, tests, failed, sound)
                lines.write(json.dumps({"mutant": name, "again": again, "ended": found[name], "by": failed}) + "\n")
                lines.flush()
    return {name: end for name, end in found.items() if end != "not run"}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("clone", type=lambda text: Path(text).resolve())
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--minutes", type=float, default=600.0)
    for room in ROOMS:
        parser.add_argument(f"--{room}", type=int, default=100)
    given = parser.parse_args()
    names = drawn(given.clone, {room: getattr(given, room) for room in ROOMS}, given.seed)
    found = run(given.clone, names, time.time() + 60.0 * given.minutes)
    for room in ROOMS:
        ends = [end for name, end in found.items() if name.startswith(f"hotspot.{room}.")]
        killed, untested = sum(end in ("killed", "endless") for end in ends), ends.count("no test")
        low, high = wilson(killed, len(ends))
        print(f"{room}: {killed} of {len(ends)} killed, {killed / len(ends):.2f} ({low:.2f} to {high:.2f});", end=" ")
        print(f"{untested} reached by no test, {ends.count('endless')} endless")
    print(*(name for name, end in sorted(found.items()) if end in ("survived", "no test")), sep="\n")


if __name__ == "__main__":
    main()
