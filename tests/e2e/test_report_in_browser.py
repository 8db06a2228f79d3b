from __future__ import annotations

import html
import json
import re
from pathlib import Path

import msgspec
import pytest

import tests.tools
from calib.checks.travel.judgement import judge_travel
from calib.checks.travel.numbers import TravelSettings
from calib.show.report import write_report
from calib.store.capture import read_capture
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.travel import TravelDocument
from tests.e2e.browser import browse, listener
from tests.unit.evidence import Bench, bench, pressed, write_capture
from tests.unit.show.report.test_sections import FULL

HOSTILE = (
    "<script>document.title='owned'</script>",
    "<img src='ADDRESS/img' onerror=\"document.title='owned'\">",
    '"><svg onload="document.title=\'owned\'"><style>@import url(ADDRESS/css);</style>',
    "</title></style><iframe src='ADDRESS/frame'></iframe><link rel=stylesheet href=ADDRESS/link>",
    "' style='background:url(ADDRESS/bg)' x='",
)


def hostile_bench(folder: Path, address: str) -> Bench:
    """A bench whose every name, condition and finding tries to break out of the page."""
    texts = [text.replace("ADDRESS", address) for text in HOSTILE]
    names = "".join(
        f"[channels.{json.dumps(text)}]\nrole = 'control'\ncolumn = 'a0'\nunit = 'count'\n"
        "full_scale = 1024\nreference_V = 5.0\n"
        for text in texts
    )
    here = bench(folder, f"[rig]\nname = {json.dumps(texts[0] + texts[1])}\n{names}")
    capture = read_capture(write_capture(here, pressed()))
    for text in texts:
        document = judge_travel(capture, here.rig, text, TravelSettings(), (text,))
        seen = Finding(code="x", severity=Severity.FAIL, text=text, action=text)
        document = msgspec.structs.replace(document, findings=(*document.findings, seen))
        here.keep(document, text)
    return here


def report_of(here: Bench) -> Path:
    """Write its report."""
    return write_report(here.folder, here.filed, here.folder / "report.html")


def test_hostile_names_run_no_script_and_fetch_nothing(tmp_path: Path) -> None:
    """In a real browser the title stays ours, no element was smuggled in, no address was asked."""
    with listener() as (address, asked):
        dom = browse(report_of(hostile_bench(tmp_path, address)), tmp_path)
        assert asked == []
    assert "owned" in dom  # the names are there to be read
    assert not re.search(r"<title[^>]*>owned", dom)
    for tag in ("<script", "<img", "<iframe", "<link"):
        assert tag not in dom
    assert not re.search(r"<\w[^<>]*\son\w+=", dom)


def test_the_test_would_see_a_script_and_a_fetch(tmp_path: Path) -> None:
    """The same names in a page that does not escape them run and fetch: the test can fail."""
    with listener() as (address, asked):
        body = "".join(text.replace("ADDRESS", address) for text in HOSTILE[:2])
        page = tmp_path / "open.html"
        page.write_text(f"<!doctype html><title>ours</title>{body}", encoding="utf-8")
        dom = browse(page, tmp_path)
        assert asked
    assert re.search(r"<title[^>]*>owned", dom)


def test_the_policy_alone_stops_what_escaping_would_miss(tmp_path: Path) -> None:
    """Were a name put in raw, the page's policy would still run nothing and fetch nothing."""
    with listener() as (address, asked):
        page = report_of(bench(tmp_path))
        body = "".join(text.replace("ADDRESS", address) for text in HOSTILE)
        text = page.read_text(encoding="utf-8")
        page.write_text(text.replace("<main>", f"<main>{body}"), encoding="utf-8")
        dom = browse(page, tmp_path)
        assert asked == []
    assert not re.search(r"<title[^>]*>owned", dom)


AXE_RUN = """
<script>{source}</script>
<script>
axe.run(document, {{runOnly: ["wcag2a", "wcag2aa", "wcag21aa", "best-practice"]}}).then(r => {{
  const out = document.createElement("pre");
  out.id = "axe";
  out.textContent = JSON.stringify({{
    dark: matchMedia("(prefers-color-scheme: dark)").matches,
    passes: r.passes.map(p => p.id),
    violations: r.violations.map(v => v.id + ": " + v.nodes.map(n => n.html).join(" | ")),
  }});
  document.body.append(out);
}});
</script>
"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_report_is_accessible(tmp_path: Path, scheme: str) -> None:
    """No rule of WCAG A or AA is broken, contrast among them, in light and in dark."""
    axe = tests.tools.require_library("axe_core_python")
    assert axe.__file__ is not None
    source = (Path(axe.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    here = bench(tmp_path)
    capture = read_capture(write_capture(here, pressed()))
    here.keep(judge_travel(capture, here.rig, "grip", TravelSettings(), ("Mind it.",)), "grip")
    for severity in Severity:
        here.keep(
            TravelDocument(
                verdict=severity,
                channel="lever",
                findings=(Finding(code="x", severity=severity, text="Seen.", action="Look."),),
            ),
            "lever",
        )
    for command, (document, _) in FULL.items():
        here.keep(document, None, command)
    page = report_of(here)
    text = page.read_text(encoding="utf-8")
    text = re.sub(r"<meta http-equiv=[^>]*>", "", text)  # the checker itself is a script
    page.write_text(text.replace("</body>", AXE_RUN.format(source=source) + "</body>"))
    dark = ("--force-dark-mode", "--blink-settings=preferredColorScheme=0")
    dom = browse(page, tmp_path, *(dark if scheme == "dark" else ()))
    found = re.search(r'<pre id="axe">(.*?)</pre>', dom, re.DOTALL)
    assert found is not None
    result = json.loads(html.unescape(found.group(1)))
    assert result["dark"] is (scheme == "dark")
    assert "color-contrast" in result["passes"]
    assert result["violations"] == []


def test_it_prints_on_paper(tmp_path: Path) -> None:
    """The browser makes A4 pages of it, 210 by 297 mm."""
    here = bench(tmp_path)
    target = tmp_path / "report.pdf"
    browse(report_of(here), tmp_path, f"--print-to-pdf={target}")
    width_pt, height_pt = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", target.read_bytes())[
        0
    ]
    assert float(width_pt) == pytest.approx(210 / 25.4 * 72, abs=1)
    assert float(height_pt) == pytest.approx(297 / 25.4 * 72, abs=1)
