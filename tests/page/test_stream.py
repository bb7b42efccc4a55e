"""The stream in the browser's own engine: when strokes sound under loops, speeds, changes at the bar line, count-in.

The songs are made up here so that every expected time can be reckoned by hand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

SONG = """
// Two sections of two bars of 4/4, two seconds a bar; a kick on every beat, surface 0 (first song) or 1 (second).
globalThis.song = (surface, seconds = 2) => {
  const bars = [0, 1, 2, 3].map((i) => ({ bar: i + 1, tick: 1920 * i, ticks: 1920, time: seconds * i, seconds,
    meter: "4/4", tempo: 120, energy: 0, section: i >> 1, feel: null, backbeats: [] }));
  const time = Array.from({ length: 16 }, (_, i) => (i * seconds) / 4);
  return { division: 480, seconds: 4 * seconds, bars, surfaces: {}, findings: [],
    sections: [{ index: 0, bar: 1, bars: 2, name: "a" }, { index: 1, bar: 3, bars: 2, name: "b" }],
    events: { time, tick: time.map((_, i) => 480 * i), surface: time.map(() => surface), velocity: time.map(() => 100),
      kind: time.map(() => 0), line: time.map(() => 2), new: time.map(() => 0) },
    clicks: time.map((t, i) => [t, i % 4 === 0 ? 1 : 0]) };
};
globalThis.plain = { rate: 1, loop: "no", silent: new Set(), click: false, riff: false };
globalThis.ways = (over) => ({ view: song(0), ...plain, ...over });
globalThis.times = (events) => events.map((event) => Math.round(event.at * 1000) / 1000);
globalThis.from = (surface, s) => times(s.read.filter((event) => event.surface === surface));
globalThis.kind = (name, s) => s.read.filter((event) => event.kind === name);
"""


@pytest.fixture
def run(page: Page) -> Any:
    """Evaluates a body that may use `Stream`, `song`, `ways` and `times`."""
    page.evaluate(f"() => {{ {SONG} }}")
    return lambda body: page.evaluate(
        f"async () => {{ const {{ Stream, barIn }} = await import('/static/stream.js'); {body} }}"
    )


def test_a_song_is_read_in_pieces(run: Any) -> None:
    """Reading in windows gives every stroke once, rising, and the song ends where its last bar does."""
    read, end = run(
        "const s = new Stream(ways(), 1); for (let t = 0; t < 10; t += 0.2) s.until(t); return [times(s.read), s.end];"
    )
    assert read == [i / 2 for i in range(16)]
    assert end == 8


def test_half_speed_takes_twice_as_long(run: Any) -> None:
    """At 50 % every stroke stands twice as late; it starts at the bar that was asked for."""
    read = run("const s = new Stream(ways({ rate: 0.5 }), 3); return times(s.until(20));")
    assert read == [float(i) for i in range(8)]


def test_a_section_loops(run: Any) -> None:
    """The second section's two bars come again and again."""
    read = run("const s = new Stream(ways({ loop: 'section' }), 3); return times(s.until(9.9));")
    assert read == [i / 2 for i in range(20)]
    place = run(
        "const s = new Stream(ways({ loop: 'section' }), 3); s.until(9); return [s.at(3.9).bar, s.at(4.1).bar];"
    )
    assert place == [4, 3]


def test_a_change_is_heard_from_the_next_bar_line_on(run: Any) -> None:
    """What lies behind the bar line is taken back and comes from the other song; what is before it stays."""
    old, new, bar = run(
        "const s = new Stream(ways(), 1); s.until(5); const line = s.nextBar(2.6);"
        " s.cut(line.out, ways({ view: song(1) }), barIn(song(0), song(1), line.bar)); s.until(9);"
        " return [from(0, s), from(1, s), line.bar];"
    )
    assert bar == 3
    assert old == [i / 2 for i in range(8)]
    assert new == [i / 2 for i in range(8, 16)]


def test_a_change_of_tempo_keeps_the_place(run: Any) -> None:
    """Where the new song is slower it goes on at the same bar, in its own time."""
    read = run(
        "const s = new Stream(ways(), 1); s.until(1); const line = s.nextBar(1.1);"
        " s.cut(line.out, ways({ view: song(1, 4) }), line.bar); s.until(7); return from(1, s);"
    )
    assert read == [2.0, 3.0, 4.0, 5.0, 6.0]


def test_a_silenced_line_goes_at_once(run: Any) -> None:
    """A cut between strokes keeps the place to the sample; the silenced line is not heard behind it."""
    read = run(
        "const s = new Stream(ways(), 1); s.until(3);"
        " s.cut(1.2, ways({ silent: new Set([2]) })); s.until(3); return times(s.read);"
    )
    assert read == [0.0, 0.5, 1.0]
    read = run("const s = new Stream(ways(), 1); s.until(3); s.cut(1.2, ways()); s.until(3); return times(s.read);")
    assert read == [0.0, 0.5, 1.0, 1.5, 2.0, 2.5]


def test_a_count_in_comes_first(run: Any) -> None:
    """Two bars of clicks in the tempo of the bar that follows, its first beats strong; then the song."""
    clicks, strokes = run(
        "const s = new Stream(ways(), 3, 2); s.until(5);"
        " return [kind('click', s).map((e) => [e.at, e.strong]), times(kind('drum', s))];"
    )
    assert clicks == [[i / 2, i % 4 == 0] for i in range(8)]
    assert strokes == [4.0, 4.5]


def test_a_count_in_counts_the_bar_s_own_beats(run: Any) -> None:
    """A bar of 7/8 that is felt as 2+2+3 eighths is counted in so, as the song's own click has it."""
    clicks = run(
        "const a = song(0, 1.75); const beats = [0, 0.5, 1];"
        " a.bars.forEach((bar) => { bar.meter = '7/8'; });"
        " a.clicks = a.bars.flatMap((bar) => beats.map((beat, i) => [bar.time + beat, i ? 0 : 1]));"
        " const s = new Stream(ways({ view: a, rate: 0.5 }), 2, 2); for (let t = 0; t < 7.05; t += 0.2) s.until(t);"
        " return kind('click', s).map((e) => [e.at, e.strong]);"
    )
    assert clicks == [[0, True], [1, False], [2, False], [3.5, True], [4.5, False], [5.5, False]]


def test_clicks_go_with_the_song(run: Any) -> None:
    """With the click on, each beat has one."""
    clicks = run("const s = new Stream(ways({ click: true }), 1); s.until(3.9); return times(kind('click', s));")
    assert clicks == [i / 2 for i in range(8)]


def test_a_stroke_pulled_before_the_line_is_not_struck_twice(run: Any) -> None:
    """A stroke of bar 2 that stands 5 ms early has sounded when a change comes at the bar line."""
    read = run(
        "const a = song(0); a.events.time[4] = 1.995; const b = song(0); b.events.time[4] = 2.003;"
        " const s = new Stream(ways({ view: a }), 1); s.until(3);"
        " s.cut(2, ways({ view: b }), 2); s.until(2.4); return times(s.read);"
    )
    assert read == [0.0, 0.5, 1.0, 1.5, 1.995]


def test_the_same_bar_is_found_in_a_longer_song(run: Any) -> None:
    """A bar is found again by its section and its number in it, else the section's last."""
    found = run(
        "const b = song(0); b.sections = [{ bar: 1, bars: 1 }, { bar: 2, bars: 3 }];"
        " return [1, 2, 3, 4].map((bar) => barIn(song(0), b, bar));"
    )
    assert found == [1, 1, 2, 3]
