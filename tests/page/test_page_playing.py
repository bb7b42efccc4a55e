"""Playing in the browser: the audio clock, what is mixed, changes while it plays, lines, MIDI out."""

from __future__ import annotations

import base64
import re
import wave
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.request import urlopen

import numpy as np
import pytest
from numpy.typing import NDArray

from grooveforge.sound.mix import limited
from grooveforge.sound.rules import CEILING
from tests.page.browsing import Served, serving, until
from tests.read_back import struck_seconds

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    from tests.page.conftest import Opener

TAP = """() => {
  globalThis.heard = [];
  grooveforge.player.taps.push((kind, left, right, start) =>
    heard.push({ kind, left: left.slice(), right: right.slice(), start }));
}"""

POSITIONS = """() => heard.filter((one) => one.kind === "drum").map((one) => [one.start, one.left.length])"""

SAMPLES = """(seconds) => {
  const rate = grooveforge.player.rate;
  const all = new Float32Array(Math.round(seconds * rate));
  for (const { kind, left, right, start } of heard) {
    const end = kind === "drum" ? Math.min(left.length, all.length - start) : 0;
    for (let i = 0; i < end; i += 1) all[start + i] = left[i] + right[i];
  }
  const bytes = new Uint8Array(all.buffer);
  let text = "";
  for (let i = 0; i < bytes.length; i += 0x8000) text += String.fromCharCode(...bytes.subarray(i, i + 0x8000));
  return [btoa(text), rate];
}"""


def mixed(page: Page, seconds: float) -> tuple[NDArray[np.float64], int]:
    """What was mixed for the drums so far, both sides added, and the sample rate."""
    text, rate = page.evaluate(SAMPLES, seconds)
    return np.frombuffer(base64.b64decode(text), np.float32).astype(np.float64), int(rate)


def play_a_while(page: Page, seconds: float) -> None:
    until(page, "seconds => grooveforge.player.stream && grooveforge.player.now > seconds", seconds)


def test_playing_sounds(page: Page) -> None:
    """The play button starts the audio clock; samples are not silent and not clipped; stop stops."""
    page.evaluate(TAP)
    page.get_by_role("button", name="Play", exact=True).click()
    play_a_while(page, 2.0)
    samples, rate = mixed(page, 2.0)
    assert rate in (44_100, 48_000)
    assert np.sqrt(np.mean(samples**2)) > 1e-3
    assert np.abs(samples / 2).max() < 1
    before = page.evaluate("grooveforge.player.context.currentTime")
    page.wait_for_timeout(300)
    assert page.evaluate("grooveforge.player.context.currentTime") > before
    assert re.fullmatch(r"bar [12] of 79, forecast", page.locator("#now").text_content() or "")
    page.get_by_role("button", name="Stop").click()
    assert page.evaluate("grooveforge.store.now.playing") is False


def onsets_near(samples: NDArray[np.float64], rate: int, times: list[float]) -> list[float]:
    """How far, in seconds, the sound's rise stands from each time.

    It rises at the first step between samples that is three times as large as any just before it.
    """
    steps = np.abs(np.diff(samples, prepend=0.0))
    found = []
    for time in times:
        middle = round(time * rate)
        before = steps[max(0, middle - round(0.01 * rate)) : max(0, middle - round(0.003 * rate))]
        limit = max(1e-5, 3 * float(before.max(initial=0.0)))
        start = max(0, middle - round(0.003 * rate))
        rising = np.flatnonzero(steps[start : middle + round(0.02 * rate)] > limit)
        assert rising.size, f"nothing rises at {time}"
        found.append((start + int(rising[0])) / rate - time)
    return found


def kicks_of(data: bytes, until: float) -> list[float]:
    """Seconds of the kick's notes (36 and 35 of General MIDI) of a MIDI file, read by mido."""
    return [now for now, note, _ in struck_seconds(data) if note in (35, 36) and now < until]


def test_onsets_stand_where_the_midi_says(page: Page, served: Served) -> None:
    """With the kick alone, each kick of the downloaded MIDI rises within 1 ms of its time in the mixed buffer."""
    page.evaluate(TAP)
    for line in ("hand", "snare", "the rest"):
        page.get_by_role("button", name=line, exact=True).click()
    page.locator("#play").click()
    play_a_while(page, 4.2)
    samples, rate = mixed(page, 5.0)
    with urlopen(served.url + "api/download/song.mid") as answer:
        expected = kicks_of(answer.read(), 5.0)
    assert len(expected) >= 8
    far = onsets_near(samples, rate, expected)
    assert max(map(abs, far)) < 0.001, far


def test_windows_leave_no_gap(page: Page) -> None:
    """The windows that are mixed follow each other sample by sample, a change at the bar line included."""
    page.evaluate(TAP)
    page.locator("#play").click()
    play_a_while(page, 0.5)
    page.evaluate("grooveforge.actions.change({ section: 0 }, 'timekeeper', 'ride', 'the hand on the ride')")
    play_a_while(page, 3.0)
    reached, windows = 0, page.evaluate(POSITIONS)
    assert len(windows) > 2
    for start, length in windows:
        assert start <= reached
        reached = start + length


def test_a_feel_changes_while_it_plays(page: Page) -> None:
    """A choice in the verse is heard from the next bar line on, without a stop; the place goes on."""
    page.evaluate("grooveforge.store.set({ bar: 5 })")
    page.locator("#play").click()
    play_a_while(page, 0.5)
    page.get_by_role("button", name="change verse", exact=True).click()
    page.get_by_label("Feel", exact=True).select_option(label="half time")
    until(page, "grooveforge.store.now.view.sections[1].feel === 'half'")
    until(page, "grooveforge.player.changed")
    line, zero = page.evaluate("[grooveforge.player.changed, 0]")
    assert line["bar"] > 5
    play_a_while(page, line["out"] + 2.2)
    loud = "grooveforge.player.stream.read.filter((e) => e.line === 1 && e.velocity > 80)"
    snares = page.evaluate(f"{loud}.map((e) => e.at)")
    bar = page.evaluate("grooveforge.store.now.view.bars[5].seconds")
    behind = [at - line["out"] for at in snares if line["out"] <= at < line["out"] + bar]
    assert [round(at / bar * 4, 1) for at in behind] == [2.0]
    assert page.evaluate("grooveforge.store.now.playing") is True
    assert zero == 0


def test_two_answers_by_one_key(page: Page) -> None:
    """x goes back and forth; the text goes along, and the sound follows at the bar line."""
    page.get_by_role("button", name="change last chorus", exact=True).click()
    page.get_by_label("Feel", exact=True).select_option(label="full time")
    until(page, "grooveforge.store.now.view.sections[8].feel === 'full'")
    text = page.evaluate("grooveforge.store.now.state.text")
    page.locator("h1").click()
    page.keyboard.press("x")
    until(page, "grooveforge.store.now.view.sections[8].feel === 'half'")
    until(page, "text => grooveforge.store.now.state.text !== text", text)
    page.keyboard.press("x")
    until(page, "grooveforge.store.now.view.sections[8].feel === 'full'")
    until(page, "text => grooveforge.store.now.state.text === text", text)


@pytest.mark.parametrize(("key", "line"), [("1", 0), ("2", 1), ("3", 2)])
def test_lines_fall_silent(page: Page, key: str, line: int) -> None:
    """A key silences the hand, the snare or the kick while the rest goes on."""
    page.evaluate("grooveforge.store.set({ bar: 5 })")
    page.locator("h1").click()
    page.keyboard.press("Space")
    play_a_while(page, 0.3)
    page.keyboard.press(key)
    cut = page.evaluate("grooveforge.player.now") + 0.1
    play_a_while(page, cut + 2.2)
    lines = page.evaluate("cut => grooveforge.player.stream.read.filter((e) => e.at > cut).map((e) => e.line)", cut)
    assert line not in lines
    assert set(lines) >= {0, 1, 2} - {line}


MIDI_STUB = """
globalThis.sent = [];
const output = { id: "one", name: "Sampler", type: "output", state: "connected",
  send: (bytes, when) => sent.push([[...bytes], when]) };
navigator.requestMIDIAccess = async () =>
  ({ outputs: new Map([["one", output]]), inputs: new Map(), onstatechange: null });
"""


def test_midi_out_keeps_the_page_s_time(served: Served, opened: Opener) -> None:
    """A port gets every stroke's note with its time on the page's clock, within 2 ms of the strokes' distances; the
    first ones within a block of audio, as the clocks have hardly been compared by then."""
    page = opened(served.url, MIDI_STUB)
    page.get_by_role("button", name="send it to a sampler by MIDI").click()
    page.get_by_label("MIDI port").select_option(label="to Sampler")
    page.locator("#play").click()
    play_a_while(page, 2.5)
    sent: Any = page.evaluate("sent.filter(([bytes]) => bytes[0] === 0x99)")
    song = page.evaluate("(({ events, notes }) => ({ ...events, notes }))(grooveforge.store.now.view)")
    assert len(sent) >= 8
    expected = [(song["notes"][str(code)], time) for code, time in zip(song["surface"], song["time"])][: len(sent)]
    assert sorted(bytes_[1] for bytes_, _ in sent) == sorted(note for note, _ in expected)
    times = sorted(when / 1000 for _, when in sent)
    reckoned = sorted(time for _, time in expected)
    off = np.array(times) - np.array(reckoned)
    off = np.abs(off - np.median(off))
    assert off.max() < 0.012
    assert np.sort(off)[: -len(off) // 3].max() < 0.002


def test_a_riff_is_heard_beside_the_drums(tmp_path: Path, browser: Browser, opened: Opener) -> None:
    """Where a part has a riff its attacks sound as tones of their own, with a level of their own."""
    with serving(tmp_path, "tin-observatory.toml") as served:
        page = opened(served.url)
        page.evaluate(TAP)
        first = page.evaluate("grooveforge.store.now.view.sections.find((section) => section.riff?.length).bar")
        page.evaluate("bar => grooveforge.store.set({ bar })", first)
        page.locator("#riff").click()
        page.locator("#play").click()
        play_a_while(page, 2.5)
        tones = page.evaluate("grooveforge.player.stream.read.filter((e) => e.kind === 'riff').map((e) => e.at)")
        assert len(tones) >= 3
        loud = "Math.max(...heard.filter(({ kind }) => kind === 'riff').map(({ left }) => Math.max(...left)))"
        assert page.evaluate(loud) > 0.01


LOUD = """
title = "Kiln Storm"
tempo = 120
form = ["all"]
[parts.all]
groove = "piles"
bars = 16
riff = "XXXXXXXXXXXXXXXX"
[grooves.piles]
tab = '''
CC C-------C-------
C2 X-------X-------
HH O-------O-------
Rd B-------B-------
CB X-------X-------
SN O-------O-------
T1 O-------O-------
T2 O-------O-------
T3 O-------O-------
T4 O-------O-------
F1 O-------O-------
FT O-------O-------
BD O-------O-------
'''
"""
"""Everything at once, too seldom for the song as a whole to be loud."""

LISTEN = """async () => {
  const { player, store } = grooveforge;
  store.set({ riff: true, riffLevel: 1, click: true, volume: 1 });
  globalThis.most = 0;
  globalThis.unbent = 0;
  const sums = new Map();
  player.taps.push((kind, left, right, start) => {
    for (const [side, samples] of [left, right].entries()) {
      const sum = sums.get(`${side} ${start}`) ?? new Float32Array(samples.length);
      sums.set(`${side} ${start}`, sum);
      for (let i = 0; i < sum.length; i += 1) unbent = Math.max(unbent, Math.abs(sum[i] += samples[i]));
    }
  });
  await player.ready();
  const split = player.context.createChannelSplitter(2);
  player.master.connect(split);
  for (const side of [0, 1]) {
    const ear = new AnalyserNode(player.context, { fftSize: 32768 });
    split.connect(ear, side);
    const samples = new Float32Array(ear.fftSize);
    setInterval(() => {
      ear.getFloatTimeDomainData(samples);
      most = samples.reduce((top, sample) => Math.max(top, Math.abs(sample)), most);
    }, 300);
  }
}"""


def test_one_ceiling_lies_over_all_that_sounds(tmp_path: Path, browser: Browser, opened: Opener) -> None:
    """At full loudness drums, click and riff together would clip; what leaves the page stays below -1 dBFS."""
    with serving(tmp_path, "kiln-storm.toml", LOUD) as served:
        page = opened(served.url)
        page.evaluate(LISTEN)
        page.locator("#play").click()
        play_a_while(page, 2.5)
        most, unbent = page.evaluate("[most, unbent]")
    assert unbent > 1
    assert 0.8 < most <= CEILING + 1e-5 < 10 ** (-1 / 20)


def test_the_ceiling_is_the_one_of_the_wav(page: Page) -> None:
    """What the nodes make of samples from -10 to 10 is what Python makes of them."""
    ramp = np.linspace(-10, 10, 4001, dtype=np.float32)
    made = page.evaluate(
        """async (ramp) => {
          const { ceiling } = await import("/static/mixer.js");
          const context = new OfflineAudioContext(1, ramp.length, 44100);
          const source = context.createBufferSource();
          source.buffer = context.createBuffer(1, ramp.length, 44100);
          source.buffer.copyToChannel(Float32Array.from(ramp), 0);
          const { input, output } = ceiling(context, grooveforge.player.bank.rules);
          source.connect(input);
          output.connect(context.destination);
          source.start();
          return [...(await context.startRendering()).getChannelData(0)];
        }""",
        ramp.tolist(),
    )
    assert np.abs(np.array(made) - limited(ramp.reshape(-1, 1))[:, 0]).max() < 1e-5


QUIET = """
title = "Lamp Room"
tempo = 120
form = ["all"]
[parts.all]
groove = "soft"
bars = 4
arrival = false
levels = "flat"
[grooves.soft]
tab = '''
CC X---------------|----------------
HH --------g-g-g-g-|g-g-g-g-g-g-g-g-
'''
"""


@pytest.mark.parametrize(("loop", "crashes", "least"), [("no", 1, 0.001), ("section", 2, 0.2)])
def test_the_first_sound_is_not_the_loudest(
    tmp_path: Path, browser: Browser, opened: Opener, loop: str, crashes: int, least: float
) -> None:
    """A hard crash before soft strokes begins softly where nothing as loud follows, and louder where it comes again;
    then too it is no louder than the rest."""
    with serving(tmp_path, "lamp-room.toml", QUIET) as served:
        page = opened(served.url)
        page.evaluate(TAP)
        page.evaluate("loop => grooveforge.store.set({ loop, bar: 3 })", loop)
        page.locator("#play").click()
        play_a_while(page, 4.2)
        samples, rate = mixed(page, 5.0)
        struck = page.evaluate("grooveforge.player.stream.read.filter((e) => e.velocity > 100).length")
    split = round(0.25 * rate)
    first, rest = (float(np.abs(part).max()) for part in (samples[:split], samples[split:]))
    assert struck == crashes
    assert least < first <= rest


def wave_file(path: Path, frequency: float, seconds: float, rate: int = 44_100) -> Path:
    """A sine as a WAV of one channel."""
    samples = np.sin(2 * np.pi * frequency * np.arange(round(seconds * rate)) / rate) * 12_000
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes(samples.astype("<i2").tobytes())
    return path


def test_an_audio_file_plays_beside_a_section(page: Page, tmp_path: Path) -> None:
    """A file given to a section sounds while that section does, and not in another; nothing is sent anywhere."""
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.method))
    page.get_by_role("button", name="change forecast").click()
    page.locator("#besidefile").set_input_files(wave_file(tmp_path / "guitar.wav", 110, 4.0))
    page.get_by_text("Beside these bars: guitar.wav").wait_for()
    page.locator("#play").click()
    until(page, "grooveforge.beside.nodes.length === 1")
    page.evaluate("grooveforge.store.set({ bar: 5 }); grooveforge.player.play()")
    play_a_while(page, 0.4)
    assert page.evaluate("grooveforge.beside.nodes.length") == 0
    assert "POST" not in asked


@pytest.mark.parametrize("rate", [0.6, 0.8, 1.2])
def test_another_speed_keeps_the_pitch(page: Page, rate: float) -> None:
    """A tone of 220 Hz stretched is as long as the speed says, and its spectrum still peaks at 220 Hz."""
    samples = np.array(
        page.evaluate(
            "async (rate) => { const { stretched } = await import('/static/stretch.js');"
            " const tone = Float32Array.from({ length: 22050 }, (_, i) => Math.sin(2 * Math.PI * 220 * i / 22050));"
            " return [...stretched(tone, rate, 22050)]; }",
            rate,
        )
    )
    assert abs(len(samples) - 22_050 / rate) <= 1
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    assert abs(np.argmax(spectrum) * 22_050 / len(samples) - 220) < 3
    assert np.sqrt(np.mean(samples[2000:-2000] ** 2)) == pytest.approx(np.sqrt(0.5), rel=0.1)
