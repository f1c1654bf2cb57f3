"""The handover sheet as HTML: one A4 side, nothing fetched, and hostile text stays text."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from board.show.plain_letters import LEGEND
from board.show.text import to_ascii
from tests.conftest import EXAMPLE, Run
from tests.show.test_sheet import AT, HOSTILE, NIGHT


class Reading(HTMLParser):
    """Every tag with its attributes, and the text, as Python's own parser reads them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.open: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, tag

    def handle_data(self, data: str) -> None:
        self.text += data


def html(run: Run, folder: Path, *more: str) -> str:
    outcome = run("handover", str(folder), *AT, "--html", "-", *more)
    assert (outcome.code, outcome.err) == (0, "")
    return outcome.out


def test_it_fetches_nothing_and_runs_nothing(run: Run) -> None:
    text = html(run, EXAMPLE)
    reading = Reading(text)
    assert reading.open == []
    names = {tag for tag, _ in reading.tags}
    assert not names & {"script", "link", "img", "iframe", "object", "embed", "form", "a", "svg"}
    for _, attributes in reading.tags:
        assert not any(name.startswith("on") for name in attributes)
        assert not {"src", "href", "style"} & set(attributes)
    assert "url(" not in text
    assert "@import" not in text
    assert "://" not in text
    policy = next(a for tag, a in reading.tags if tag == "meta" and "http-equiv" in a)
    assert str(policy["content"]).startswith("default-src 'none'; style-src 'sha256-")


def test_language_title_and_letters(run: Run) -> None:
    text = html(run, EXAMPLE)
    reading = Reading(text)
    assert ("html", {"lang": "en"}) in reading.tags
    assert "<title>QUILLBANK shed shift handover night 2026-11-24 -&gt; early" in text
    assert text.isascii()


def test_it_is_black_on_white_and_no_letter_is_too_small(run: Run) -> None:
    text = html(run, EXAMPLE).partition("<style>")[2].partition("</style>")[0]
    assert set(re.findall(r"#[0-9a-fA-F]{3,8}\b", text)) == {"#000", "#fff"}
    assert min(float(size) for size in re.findall(r"([\d.]+)pt", text)) >= 8.5


def test_hostile_text_stays_text(shed: Callable[..., Path], run: Run) -> None:
    text = html(run, shed({"a.log": HOSTILE}))
    reading = Reading(text)
    assert reading.open == []
    assert not {tag for tag, _ in reading.tags} & {"script", "img"}
    assert "<script>alert(1)</script> & lock" in reading.text
    assert "</td></table> <img src=http://a.example/x>" in reading.text
    assert "stoped <b onload=x>" in reading.text
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", reading.text)
    assert "\u241b[31mred\u241b]0;title\u2407" in reading.text


def test_a_letter_of_any_script_is_kept_and_stands_by_itself(
    shed: Callable[..., Path], run: Run
) -> None:
    text = html(run, shed({"a.log": NIGHT + "22:10 A07 fault \u05e9\u05dc\u05d5\u05dd\n"}))
    assert "\u05e9\u05dc\u05d5\u05dd" in Reading(text).text
    assert re.search(r"<bdi>[^<]*&#1513;[^<]*</bdi>", text)


def test_rows_are_those_of_the_text(run: Run) -> None:
    words = re.sub(r"\s+", "", to_ascii(Reading(html(run, EXAMPLE)).text))
    plain = run("handover", str(EXAMPLE), *AT, "--width", "400").out
    body = [line for page in plain.split("\f") for line in page.split("\n")[5:]]
    rows = [line for line in body if line and "___" not in line and "---" not in line]
    assert len(rows) > 40
    for row in rows:
        if row.endswith(", continued") or row in LEGEND:
            continue
        told = re.sub(r"\s+", "", row.replace("[ ] seen at the machine", "").replace("[ ]", ""))
        assert told in words, row


def test_the_file_is_written_whole_and_its_path_told(tmp_path: Path, run: Run) -> None:
    target = tmp_path / "sheet one.html"
    target.write_text("old")
    outcome = run("handover", str(EXAMPLE), *AT, "--html", str(target))
    assert outcome.out == f"handover sheet written to {target}\n"
    assert target.read_text(encoding="utf-8") == html(run, EXAMPLE)
    assert [p.name for p in tmp_path.iterdir() if p.suffix == ".tmp"] == []


def test_a_write_that_fails_leaves_the_old_file(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "sheet.html"
    target.write_text("old")

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("board.commands.saving.os.fsync", full)
    outcome = run("handover", str(EXAMPLE), *AT, "--html", str(target))
    assert outcome.code == 2
    assert outcome.err == f"loomslate: cannot write {target}: no space left on device\n"
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir() if p.is_file()] == ["sheet.html"]


# -- on paper ------------------------------------------------------------------------------

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
PDFINFO, PDFTOTEXT = shutil.which("pdfinfo"), shutil.which("pdftotext")
printed_test = pytest.mark.skipif(
    not (CHROMIUM and PDFINFO and PDFTOTEXT),
    reason="needs chromium, pdfinfo and pdftotext to print the sheet",
)


def printed(run: Run, folder: Path, tmp_path: Path) -> list[str]:
    """The text of each page that a browser prints, checked to be A4."""
    assert CHROMIUM
    assert PDFINFO
    assert PDFTOTEXT
    page, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    page.write_text(html(run, folder), encoding="utf-8")
    subprocess.run(
        [
            CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
            "--disable-background-networking", "--disable-component-update", "--disable-sync",
            "--no-pdf-header-footer", f"--user-data-dir={tmp_path / 'profile'}",
            f"--print-to-pdf={pdf}", page.as_uri(),
        ],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    info = subprocess.run([PDFINFO, pdf], check=True, capture_output=True, text=True).stdout
    size = re.search(r"Page size:\s+([\d.]+) x ([\d.]+) pts", info)
    assert size is not None
    # ISO 216: A4 is 210 by 297 mm, 595.3 by 841.9 points
    assert float(size[1]) == pytest.approx(595.3, abs=1.0)
    assert float(size[2]) == pytest.approx(841.9, abs=1.0)
    text = subprocess.run([PDFTOTEXT, pdf, "-"], check=True, capture_output=True).stdout
    return text.decode("utf-8").removesuffix("\f").split("\f")


@printed_test
def test_the_example_prints_on_one_side(tmp_path: Path, run: Run) -> None:
    pages = printed(run, EXAMPLE, tmp_path)
    assert len(pages) == 1
    assert "this sheet replaces none of them." in " ".join(pages[0].split())


@printed_test
def test_what_does_not_fit_goes_on_under_the_same_head(
    tmp_path: Path, shed: Callable[..., Path], run: Run
) -> None:
    lines = [f"23:{n:02} A{n:02} isolated by KM lock {n}" for n in range(1, 13)]
    lines += [f"22:{n:02} A{n % 12 + 1:02} fault number {n} of many in a row" for n in range(60)]
    lines += [f"23:{n:02} B01 note remark {n} of the night, long enough to wrap" for n in range(60)]
    folder = shed({"a.log": NIGHT + "\n".join(lines) + "\n"})
    pages = printed(run, folder, tmp_path)
    assert len(pages) >= 2
    for page in pages:
        assert "Record only, not a permit." in page
        assert "SMALLSHED shed shift handover" in page
    words = " ".join(" ".join(pages).split())
    for n in range(60):
        assert f"fault number {n} of many" in words
        assert f"remark {n} of the night" in words
    assert all(f"lock {n};" in words for n in range(1, 13))
    assert words.count("seen at the machine") >= 12
