"""Readings -> findings: rise over ambient, comparison with peers, verdicts, before and after. No disk.

In the order in which a test is worked through::

    rise.py          starts and ends of a pin; single wrong readings
    stage_ends.py    one look at each pin in each stage
    settling.py      where a stage is heading
    peers.py         a pin against its like-loaded peers
    stage_peers.py   who are peers, who stands out, who cannot be judged
    wires.py         wire, lead, terminal and splice against each other
    verdicts.py      one verdict with the reasons that made it
    findings.py      judge(): all of it for one session; answer.py, next_steps.py: what to say first and last
    pairing.py       which pin and stage of two tests belong together
    footing.py       two tests on one footing; equivalence.py: better, same, worse or not to be told
    before_after.py  compare(); compare_answer.py: its one sentence
"""

from hotspot.reason.findings import judge

__all__ = ["judge"]
