"""A drummer tries it: planted faults are found, only there, and the change that is proposed removes them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest

from grooveforge.analysis.changes import MOST_STROKES, apply_change
from grooveforge.analysis.findings import Finding, Reason
from grooveforge.analysis.playability import Checked, check, check_groove, groove_performance
from grooveforge.analysis.sticking import LIMBS
from grooveforge.analysis.zones import MOVE_SECONDS, ZONES
from grooveforge.core.groove import Groove
from grooveforge.core.kit import SURFACE_CODES, SURFACES
from grooveforge.core.perform import Performance
from grooveforge.core.profile import EXPERIENCED, EXTREME, LEARNING, Profile
from grooveforge.errors import MusicError
from grooveforge.formats.groovefile import read_groove_file

Bar = Mapping[str, str]

PLAIN = {"HH": "x-x-x-x-x-x-x-x-", "SN": "----O-------O---", "BD": "o-------o-------"}
SIXTEENTHS = {"Rd": "x-x-x-x-x-x-x-x-", "SN": "----O-------O---", "BD": "oooooooooooooooo"}


def groove(bars: Sequence[Bar], grid: int = 16) -> Groove:
    labels = dict.fromkeys(label for bar in bars for label in bar)
    rows = [f"{label} |" + "|".join(bar.get(label, "-" * grid) for bar in bars) + "|" for label in labels]
    return read_groove_file("tab = '''\n" + "\n".join(rows) + f"\n'''\ngrid = {grid}\n").groove


def song(bars: Sequence[Bar], bpm: float, grid: int = 16) -> Performance:
    return groove_performance(groove(bars, grid), bpm, times=1)


def finely(bar: Bar, step: int, **more: str) -> Bar:
    """A bar on a grid of 96 steps to a whole note, with further strokes on one step."""
    rows = {label: "".join(mark + "-" * 5 for mark in marks) for label, marks in bar.items()}
    for label, mark in more.items():
        row = rows.get(label, "-" * 96)
        rows[label] = row[:step] + mark + row[step + 1 :]
    return rows


# -- planted faults ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Fault:
    """A bar that cannot be played between bars that can."""

    reason: Reason
    host: Bar
    bar: Bar
    bpm: float
    beat: float
    limbs: tuple[str, ...] | None
    grid: int = 16
    fits: int | None = None


FAULTS = {
    "three hands on one tick": Fault(
        Reason.THREE_HANDS, PLAIN, {**PLAIN, "CC": "----x-----------"}, 120, 2.0, ("right hand", "left hand")
    ),
    "a flam under the hi-hat": Fault(
        Reason.THREE_HANDS, PLAIN, {**PLAIN, "SN": "----f-------O---"}, 100, 2.0, ("right hand", "left hand")
    ),
    "a third surface 20 ms after two others": Fault(
        Reason.TWO_SURFACES, finely(PLAIN, 0), finely(PLAIN, 25, T1="o"), 120, 2.0417, None, 96
    ),
    "hi-hat foot with both feet on the kicks": Fault(
        Reason.HI_HAT_FOOT, SIXTEENTHS, {**SIXTEENTHS, "Hf": "----x-----------"}, 180, 2.0, ("left foot",)
    ),
    "hi-hat opened with both feet on the kicks": Fault(
        Reason.HI_HAT_FOOT,
        {**PLAIN, "BD": SIXTEENTHS["BD"]},
        {**PLAIN, "BD": SIXTEENTHS["BD"], "HH": "x-x-x-o-o-o-o-o-"},
        180,
        2.5,
        ("left foot",),
    ),
    "sixteenth kicks at 230": Fault(
        Reason.RATE, PLAIN, {**PLAIN, "BD": "oooooooooooooooo"}, 230, 1.0, ("right foot", "left foot"), fits=195
    ),
    "one hand in sixteenths at 190": Fault(
        Reason.RATE, PLAIN, {**PLAIN, "HH": "xxxxxxxxxxxxxxxx", "SN": "o-o-o-o-o-o-o-o-"}, 190, 1.0, None
    ),
    "a far jump": Fault(Reason.TRAVEL, PLAIN, {**PLAIN, "CC": "-----c----------"}, 136, 2.25, None),
    "a choke with no free hand": Fault(
        Reason.CHOKE, PLAIN, {**PLAIN, "HH": "-xx-x-x-x-x-x-x-", "SN": "-oo-O-------O---", "CC": "#---------------"},
        145, 1.0, None,
    ),
}  # fmt: skip

every_fault = pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS.keys())


def planted(fault: Fault, before: int, after: int = 2) -> Performance:
    return song([fault.host] * before + [fault.bar] + [fault.host] * after, fault.bpm, fault.grid)


@every_fault
@pytest.mark.parametrize("before", [1, 2, 5])
def test_a_planted_fault_is_found_and_only_there(fault: Fault, before: int) -> None:
    """One finding, in the bar and on the beat where the fault was planted, with its reason and limbs."""
    found = check(planted(fault, before), EXPERIENCED).findings
    assert {row.reason for row in found} == {fault.reason}
    first = found[0]
    assert (first.bar, first.beat) == (before + 1, fault.beat)
    assert {row.last_bar for row in found} <= {before + 1, before + 2}  # what was opened must be closed again
    if fault.limbs is not None:
        assert first.limbs == fault.limbs
    if fault.fits is not None:
        assert first.fits == fault.fits
        assert first.in_words.endswith(f"fits up to {fault.fits} bpm")


@every_fault
def test_without_the_fault_there_is_nothing_to_find(fault: Fault) -> None:
    """The bars round the fault can be played."""
    assert check(song([fault.host] * 4, fault.bpm, fault.grid), EXPERIENCED).findings == ()


@every_fault
@pytest.mark.parametrize("before", [1, 4])
def test_a_proposed_change_removes_its_finding(fault: Fault, before: int) -> None:
    """It touches at most two strokes or thins one lane; then nothing is wrong there, and nothing new elsewhere."""
    performance = planted(fault, before)
    found = check(performance, EXPERIENCED).findings
    assert found
    for finding in found:
        change = finding.change
        assert change is not None and change.in_words
        assert change.touched <= MOST_STROKES or {code for _, code in change.removed} == {change.thinned}
        left = check(apply_change(performance, change), EXPERIENCED, remedies=False).findings
        assert not [row for row in left if row.tick <= finding.end and row.end >= finding.tick]
        assert {(row.reason, row.tick) for row in left} < {(row.reason, row.tick) for row in found}


@every_fault
def test_a_finding_is_gone_at_the_tempo_that_it_fits_up_to(fault: Fault) -> None:
    """Up to there nothing is wrong there; at one more, something is."""
    finding = check(planted(fault, 2), EXPERIENCED).findings[0]
    if finding.fits is None:
        assert finding.reason == Reason.THREE_HANDS
        return

    def wrong(bpm: int) -> bool:
        found = check(planted(replace(fault, bpm=bpm), 2), EXPERIENCED, remedies=False).findings
        return any(row.tick <= finding.end and row.end >= finding.tick for row in found)

    assert finding.fits < fault.bpm
    assert not wrong(finding.fits)
    assert wrong(finding.fits + 1)


def test_all_changes_of_a_spoilt_song_make_it_playable() -> None:
    """With several faults in one song, taking each proposal in turn leaves nothing to find."""
    bars = [PLAIN, FAULTS["three hands on one tick"].bar, PLAIN, FAULTS["a flam under the hi-hat"].bar, PLAIN]
    performance = song(bars, 110)
    for _ in range(5):
        found = check(performance, EXPERIENCED).findings
        if not found:
            break
        assert found[0].change is not None
        performance = apply_change(performance, found[0].change)
    assert check(performance, EXPERIENCED).playable


# -- one reason an instant --------------------------------------------------------------------------------------


def test_one_finding_an_instant() -> None:
    """Where several reasons apply to an instant, the first of the list is given."""
    bar = {**PLAIN, "HH": "xxxxxxxxxxxxxxxx", "SN": "oooooooooooooooo", "CC": "----x-----------"}
    found = check(song([PLAIN, bar, PLAIN], 190), EXPERIENCED, remedies=False).findings
    assert len({row.tick for row in found}) == len(found)
    assert [row.reason for row in found if row.beat == 2.0 and row.bar == 2] == [Reason.THREE_HANDS]


# -- bursts -----------------------------------------------------------------------------------------------------


SINGLE_PEDAL = replace(EXPERIENCED, double_pedal=False)


def kicks(marks: str, bpm: float) -> Checked:
    one = {"BD": "o" + "-" * 15}
    return check(song([one, {"BD": marks}, one], bpm), SINGLE_PEDAL, remedies=False)


def test_a_burst_of_four_may_be_half_as_fast_again() -> None:
    """One foot holds 6.5 a second: four in a row at 9.75 (sixteenths at 146) are a burst, five are too many."""
    assert kicks("oooo------------", 146).playable
    assert not kicks("oooo------------", 148).playable
    assert not kicks("ooooo-----------", 146).playable
    assert kicks("ooooo-----------", 97).playable  # 6.47 a second
    assert not kicks("ooooo-----------", 98).playable  # 6.53 a second


def test_over_a_longer_run_the_mean_rate_counts() -> None:
    """Groups of three sixteenths in every four are 3/4 of the rate: held up to 6.5 a second, and not beyond."""
    groups = "ooo-ooo-ooo-ooo-"
    assert kicks(groups, 128).playable  # 6.4 a second
    assert not kicks(groups, 133).playable  # 6.65 a second


# -- feet -------------------------------------------------------------------------------------------------------


def test_a_single_pedal_has_half_the_kicks() -> None:
    """Eighth kicks at 195 are 6.5 a second: one foot holds them, and no more."""
    eighths = {"BD": "o-o-o-o-o-o-o-o-"}
    assert check_groove(groove([eighths]), 195, SINGLE_PEDAL).playable
    found = check_groove(groove([eighths]), 200, SINGLE_PEDAL).findings
    assert [(row.limbs, row.fits) for row in found] == [(("right foot",), 195)]


def test_the_hi_hat_foot_is_free_beside_one_foot_kicks() -> None:
    """Off-beat pedal strokes beside kicks on the beat are one stroke a foot."""
    bar = {**PLAIN, "BD": "o---o---o---o---", "Hf": "--x---x---x---x-"}
    assert check_groove(groove([bar]), 180, EXPERIENCED).playable


def test_open_strokes_need_the_foot_at_each_change_alone() -> None:
    """A hi-hat that stays open under sixteenth kicks is fine."""
    bar = {**PLAIN, "HH": "o-o-o-o-o-o-o-o-", "BD": SIXTEENTHS["BD"]}
    assert check_groove(groove([bar]), 180, EXPERIENCED).playable


# -- hands ------------------------------------------------------------------------------------------------------


def hands(checked: Checked, beat: float = 1.0, bar: int = 1) -> dict[str, str]:
    """Surface -> limb at an instant."""
    rows = checked.sticking
    at = np.flatnonzero((rows.bar == bar) & (rows.beat == beat))
    names = {code: name for name, code in SURFACE_CODES.items()}
    return {names[int(rows.surface[row])]: LIMBS[int(rows.limb[row])] for row in at}


def test_the_leading_hand_keeps_time() -> None:
    """Right hand on the hi-hat, left on the snare, right foot on the kick."""
    checked = check_groove(groove([PLAIN]), 130, EXPERIENCED)
    assert hands(checked, 2.0) == {"closed hi-hat": "right hand", "snare": "left hand"}
    assert hands(checked, 1.0)["kick"] == "right foot"


def test_a_left_handed_kit_is_the_mirror() -> None:
    """Every limb of a left-handed drummer is the other one of a right-handed."""
    bar = {**PLAIN, "T1": "----------o-----", "FT": "--------------oo", "BD": "o-oo----oooo----"}
    right = check_groove(groove([bar]), 120, EXPERIENCED).sticking
    left = check_groove(groove([bar]), 120, replace(EXPERIENCED, handed="left")).sticking
    key = np.lexsort((right.surface, right.tick))
    other = np.lexsort((left.surface, left.tick))
    assert np.array_equal(right.limb[key] ^ 1, left.limb[other])


def test_an_open_handed_drummer_leads_with_either_hand() -> None:
    """With the backbeat on the floor tom the left hand keeps time on the hi-hat, and the right one need not cross."""
    bar = {"HH": "x-x-x-x-x-x-x-x-", "FT": "----O-------O---"}
    assert set(hands(check_groove(groove([bar]), 130, replace(EXPERIENCED, open_handed=True)), 2.0).values()) == {
        "left hand",
        "right hand",
    }
    closed = check_groove(groove([bar]), 130, EXPERIENCED)
    assert hands(closed, 2.0)["closed hi-hat"] == "right hand"


def test_a_flam_and_a_drag_take_both_hands() -> None:
    """Their grace strokes are the other hand's; the strokes round them go on."""
    for mark in "fd":
        checked = check_groove(groove([{"SN": f"o---{mark}---o---o---"}]), 120, EXPERIENCED)
        assert checked.playable
        assert len(checked.sticking) == 2 * 5


def test_a_song_with_loose_hands_is_one_with_tight_ones() -> None:
    """Strokes of one place are one instant, however far a drift pulls them apart."""
    tight = song([PLAIN] * 4, 120)
    offsets = np.random.default_rng(1).integers(-12, 13, len(tight))
    events = tight.events
    ticks = np.maximum(events.tick + offsets, 0)
    loose = replace(tight, events=events._replace(tick=ticks, offset=ticks - events.tick))
    assert check(loose, EXPERIENCED).playable


# -- the whole --------------------------------------------------------------------------------------------------


def test_the_hardest_bar_is_the_one_that_costs_most() -> None:
    """A bar of sixteenth kicks among bars of quarters."""
    easy = {**PLAIN, "BD": "o---o---o---o---"}
    checked = check(song([easy, easy, {**PLAIN, "BD": SIXTEENTHS["BD"]}, easy], 170), EXPERIENCED)
    assert checked.hardest_bar == 3
    assert np.argmax(checked.loads) == 2


def test_nothing_played_is_nothing_found() -> None:
    """A bar of rests has no findings, no sticking and no hardest bar."""
    checked = check(song([{"BD": "-" * 16}], 120), EXPERIENCED)
    assert (checked.findings, len(checked.sticking), checked.hardest_bar) == ((), 0, None)


def test_an_easier_profile_never_finds_more() -> None:
    """What an experienced drummer plays an extreme one plays, and what a learning one plays both do."""
    bars = [PLAIN, SIXTEENTHS, {**PLAIN, "HH": "xxxxxxxxxxxxxxxx"}]
    for bpm in range(80, 260, 20):
        playable = [check(song(bars, bpm), who, remedies=False).playable for who in (LEARNING, EXPERIENCED, EXTREME)]
        assert playable == sorted(playable)


def test_checking_changes_nothing() -> None:
    """Findings, sticking and loads are the same each time."""
    fault = FAULTS["sixteenth kicks at 230"]
    one, two = (check(planted(fault, 2), EXPERIENCED) for _ in range(2))
    assert one.findings == two.findings
    assert np.array_equal(one.sticking.limb, two.sticking.limb)
    assert np.array_equal(one.loads, two.loads)


def facts_of(finding: Finding) -> set[str]:
    return set(finding.facts())


def test_the_fields_of_a_finding() -> None:
    """bar, beat, limbs, reason and change are a contract; more may stand beside them."""
    finding = check(planted(FAULTS["a far jump"], 1), EXPERIENCED).findings[0]
    assert facts_of(finding) >= {"bar", "beat", "limbs", "reason", "change"}


# -- tables and profiles ----------------------------------------------------------------------------------------


def test_every_surface_that_a_hand_strikes_has_a_zone() -> None:
    """All but the kick and the hi-hat's pedal."""
    assert set(ZONES) == {row.name for row in SURFACES} - {"kick", "pedal hi-hat"}
    assert max(ZONES.values()) - min(ZONES.values()) == len(MOVE_SECONDS) - 1


def test_the_shipped_profiles() -> None:
    """House rule of the facts that they follow: hand and both feet, in strokes a second."""
    assert [(row.hand, row.feet) for row in (LEARNING, EXPERIENCED, EXTREME)] == [(5, 8.7), (6.7, 13), (9, 16)]


@pytest.mark.parametrize(
    ("key", "value"),
    [("hand", -1), ("hand", 0), ("feet", -13), ("feet", float("nan")), ("hand", 1000), ("comfort", 1.5), ("burst", 0),
     ("burst_factor", 0.5), ("handed", "both")],
)  # fmt: skip
def test_a_profile_that_no_drummer_has_is_refused(key: str, value: float | str) -> None:
    """The error names the key."""
    values: dict[str, Any] = {"name": "me", "hand": 6.0, "feet": 12.0, key: value}
    with pytest.raises(MusicError) as caught:
        Profile(**values)
    assert [fault.path for fault in caught.value.faults] == [(key,)]
