"""Which columns of a target are samples: ranges, statistics and other units are none, or doubted."""

from __future__ import annotations

import pytest
from tests.studies import told

from reaccord.domain.lines import Basis, Reported, TargetLine
from reaccord.findings import Findings
from reaccord.tables.composition_table import composition_lines
from reaccord.tables.raw import RawTable
from reaccord.tables.separated import parse_text
from reaccord.tables.target_table import target_lines


def table(text: str) -> RawTable:
    raw = parse_text(text, "t.csv", ",", Findings())
    assert raw is not None
    return raw


def read(
    headings: str, cells: str = "", wanted: tuple[str, ...] = (), basis: Basis = "mass"
) -> tuple[tuple[TargetLine, ...], tuple[str, ...], list[tuple[str, str]]]:
    findings = Findings()
    cells = cells or ",".join("1" for _ in headings.split(","))
    lines, samples = target_lines(table(f"constituent,{headings}\nlinalool,{cells}\n"), findings, wanted, basis)
    prefix = "t.csv, row 1, column "
    return lines, samples, [(code, text.removeprefix(prefix)) for code, text in told(findings)]


@pytest.mark.parametrize(
    "ends",
    [
        ("Minimum", "Maximum"), ("Min", "Max"), ("Min. %", "Max. %"), ("min (%)", "max (%)"), ("Lowest", "Highest"),
        ("lower limit", "upper limit"), ("Low (%)", "High (%)"), ("MIN", "MAX"), ("From", "To"), ("Min a", "Max a"),
    ],
)  # fmt: skip
def test_the_ends_of_a_range_are_low_and_high(ends: tuple[str, str]) -> None:
    (line,), samples, said = read(",".join(ends), "1,5")
    assert (samples, line.low, line.high) == ((), Reported(0.01), Reported(0.05))
    assert said == [
        ("taken-as", f"{ends[0]}: taken as the column low."),
        ("taken-as", f"{ends[1]}: taken as the column high."),
    ]


def test_the_ends_of_a_range_beside_a_mean() -> None:
    (line,), samples, _ = read("Min,Max,Mean", "1,5,3")
    assert (samples, dict(line.shares), line.low, line.high) == (
        ("Mean",), {"Mean": Reported(0.03)}, Reported(0.01), Reported(0.05),
    )  # fmt: skip


def test_the_study_may_name_any_column_as_a_sample() -> None:
    (line,), samples, said = read("Min,SD,N", "1,2,3", ("Min", "SD", "N"))
    assert samples == ("Min", "SD", "N")
    assert dict(line.shares) == {"Min": Reported(0.01), "SD": Reported(0.02), "N": Reported(0.03)}
    assert (line.low, said) == (None, [])


@pytest.mark.parametrize(
    "heading",
    [
        "SD", "S.D.", "± SD", "±SD", "SD (%)", "std", "Std dev", "Std. Dev.", "standard deviation", "RSD", "RSD (%)",
        "% RSD", "SEM", "SE", "CV", "CV %", "n", "RRF", "RF", "Response factor", "tR", "tR (min)", "t_R", "tR/min",
        "RT", "RT (min)", "RT1", "Rt (min)", "Time", "Time (min)", "Ret. time", "RIa", "RI a", "RIᵃ", "RI^a", "RI*",
        "RI (exp.)", "RI exp", "RI lit.", "RI calc", "RIlit", "RI DB-5", "LRI", "KI lit", "AI", "Sum", "Total",
        "Total (%)", "RT/min", "Quality", "SI", "Match", "Similarity (%)", "Identification c", "Identificationᶜ",
        "IDb", "Method d",
    ],
)  # fmt: skip
def test_statistics_times_and_indices_are_put_aside_and_said(heading: str) -> None:
    (line,), samples, said = read(f"G1,{heading}", "40,3")
    assert (samples, dict(line.shares)) == (("G1",), {"G1": Reported(0.4)})
    assert said == [
        ("taken-as", f"{heading}: left out: it holds no share. If it is a sample, name it in target.samples.")
    ]


@pytest.mark.parametrize("headings", ["G1,G1 SD", "Mean G1,SD G1", "G1 mean,G1 RSD (%)"])
def test_the_deviation_of_another_column_is_put_aside(headings: str) -> None:
    sample, deviation = headings.split(",")
    _, samples, said = read(headings)
    assert samples == (sample,)
    assert said == [
        ("taken-as", f"{deviation}: left out: it holds no share. If it is a sample, name it in target.samples.")
    ]


@pytest.mark.parametrize(
    "headings",
    ["G1,G2", "Mean", "Mean (%)", "Mean ± SD", "Content (%)", "TR,NL", "Mean A,Mean B", "Siam,Rita", "Minthe,Sumatra",
     "G1 (n = 3)", "Ripe,Time-dried", "Kind,Maxima", "g/100 g", "% w/w", "wt %"],
)  # fmt: skip
def test_plain_samples_are_read_in_silence(headings: str) -> None:
    _, samples, said = read(headings)
    assert (samples, said) == (tuple(headings.split(",")), [])


def test_a_mean_beside_samples_is_counted_and_said() -> None:
    _, samples, said = read("G1,G2,Average (%)")
    assert samples == ("G1", "G2", "Average (%)")
    text = "counted as a sample beside those it may be the mean of. Name the samples in target.samples, or take it out."
    assert said == [("sample-or-column", f"Average (%): {text}")]
    assert read("G1,G2,Mean", wanted=("G1", "G2"))[2] == []


def test_without_any_share_left_there_are_no_rows() -> None:
    assert read("mol %")[0] == ()
    assert read("ppm,G1", wanted=("ppm",))[:2] == ((), ("G1",))


@pytest.mark.parametrize("heading", ["Weight %", "Weight (%)", "% weight", "Weight, % w/w"])
def test_percent_of_weight_is_no_weight_of_a_row(heading: str) -> None:
    (line,), samples, _ = read(f'"{heading}"', "40")
    assert (samples, line.weight) == ((heading,), 1.0)


def test_a_weight_with_a_footnote_letter() -> None:
    (line,), samples, said = read("G1,Weight a", "40,3")
    assert (samples, line.weight) == (("G1",), 3.0)
    assert said == [("taken-as", "Weight a: taken as the column weight.")]


@pytest.mark.parametrize(
    "heading", ["Content (%)", "g/100 g", "% w/w", "GC-FID peak area (%)", "Mean (%)", "Weight %", "Area a", "%"]
)
def test_the_share_of_a_composition_by_other_names(heading: str) -> None:
    findings = Findings()
    (line,) = composition_lines(table(f"material,part,{heading}\nOil,menthol,40\n"), findings)
    assert line.share == Reported(0.4)
    assert findings.warnings[0].message == "taken as the column share."


@pytest.mark.parametrize("heading", ["mol %", "ppm", "Content (ppm)", "mg/g", "Amount (mg)", "vol %"])
def test_other_units_are_no_share_of_a_composition(heading: str) -> None:
    findings = Findings()
    assert composition_lines(table(f"material,part,{heading}\nOil,menthol,40\n"), findings) == ()
    assert {found.code for found in findings.errors} == {"unknown-column", "missing-column"}


@pytest.mark.parametrize("heading", ["Max of 3 lots", "Upper", "G2 SD", "N", "Total ion", "Error"])
def test_what_looks_like_a_statistic_is_doubted(heading: str) -> None:
    _, samples, said = read(f"G1,{heading}")
    assert samples == ("G1", heading)
    cure = "If it is no sample, take the column out; else name it in target.samples."
    assert said == [("sample-or-column", f"{heading}: read as a sample; it looks like a statistic. {cure}")]


@pytest.mark.parametrize(("heading", "unit"), [("Amount (mg)", "mg"), ("g", "g"), ("grams", "grams")])
def test_a_column_of_masses_is_asked_about(heading: str, unit: str) -> None:
    lines, _, said = read(heading)
    assert lines == ()
    text = f'the heading says "{unit}". Give percent by mass: each divided by their sum, times 100.'
    assert said == [("no-share", f"{heading}: {text}")]
    assert read(f"{heading},G1", wanted=("G1",))[2] == []
    assert read(heading, wanted=(heading,))[0], "it is called a sample"


@pytest.mark.parametrize("other", ["Absolute (mg/g)", "Amount (mg)", "g", "mol %"])
def test_another_unit_beside_percent_is_left_out_and_said(other: str) -> None:
    (line,), samples, said = read(f"{other},Relative (%)", "400,3")
    assert (dict(line.shares), samples) == ({"Relative (%)": Reported(0.03)}, ("Relative (%)",))
    text = "left out: it is in another unit than percent by mass, which stands beside it."
    assert said == [("taken-as", f"{other}: {text}")]


@pytest.mark.parametrize("heading", ["Range", "Range (%)", "Min-Max", "min–max"])
def test_a_column_of_ranges_is_the_band_of_the_samples_beside_it(heading: str) -> None:
    (line,), samples, said = read(f"{heading},G1", "1-5,3")
    assert (dict(line.shares), samples) == ({"G1": Reported(0.03)}, ("G1",))
    assert (line.low, line.high) == (Reported(0.01), Reported(0.05))
    assert [code for code, _ in said] == ["taken-as"]
    (line,), _, said = read(f"{heading},G1", "1-5,3", ("G1",))
    assert line.low == Reported(0.01)
    (line,), samples, _ = read(heading, "1-5")
    assert samples == (heading,)
    share = line.shares[heading]
    assert share is not None
    assert (line.low, line.high, share.number) == (Reported(0.01), Reported(0.05), pytest.approx(0.03))


@pytest.mark.parametrize(
    ("heading", "unit"),
    [("mol %", "mol %"), ("Mole fraction", "Mole fraction"), ("% v/v", "v/v"), ("vol %", "vol %"),
     ("Vol. (%)", "Vol. (%"), ("mL", "mL"), ("Amount (µL)", "µL"), ("mg/L", "mg/L")],
)  # fmt: skip
def test_what_is_no_mass_is_refused_once(heading: str, unit: str) -> None:
    (line,), _, said = read(f"{heading},G1", "400,3")
    assert dict(line.shares) == {"G1": Reported(0.03)}
    assert said == [("no-share", f'{heading}: "{unit}" is no share by mass. Give percent by mass.')]
    assert read(f"{heading},G1", "400,3", ("G1",))[2] == []


@pytest.mark.parametrize("unit", ["ppm", "mg/g", "‰", "mg/kg", "g/kg", "µg/g", "ppb"])
def test_a_small_unit_in_the_heading_needs_its_sign_in_every_cell(unit: str) -> None:
    lines, _, said = read(f"G1 ({unit})", "400")
    text = f'the heading says "{unit}", but a plain number is percent: write each cell with its sign (40 ppm, 4 ‰), '
    assert lines == ()
    assert said == [("no-share", f"G1 ({unit}): {text}or give percent by mass.")]
    (line,), _, said = read(f"G1 ({unit})", "400 ppm")
    assert (dict(line.shares), said) == ({f"G1 ({unit})": Reported(0.0004)}, [])
    assert read(f"G1 ({unit})", "tr")[2] == []
    assert read(f"G1 ({unit})", "<5")[0] == (), "five of what?"


AREA = "area percent taken as percent by mass; if they come from a flame ionisation detector, "


@pytest.mark.parametrize("heading", ["Peak area %", "GC-FID area %", "Area (%)", "FID %"])
def test_area_taken_as_mass_is_said(heading: str) -> None:
    said = read(heading)[2]
    assert said == [("taken-as", f'{heading}: {AREA}basis = "fid-area" under [target] converts them.')]
    assert read(heading, basis="fid-area")[2] == []
    assert read(f"{heading},G1", wanted=("G1",))[2] == []


def test_area_of_a_composition_taken_as_mass_is_said() -> None:
    findings = Findings()
    composition_lines(table("material,part,GC-FID area %\nOil,menthol,40\n"), findings)
    assert [found.message for found in findings.warnings] == [
        "taken as the column share.",
        f"{AREA}fid-area in the column basis converts them.",
    ]
    findings = Findings()
    composition_lines(table("material,part,Area (%),basis\nOil,menthol,40,fid-area\n"), findings)
    assert [found.message for found in findings.warnings] == ["taken as the column share."]


def test_a_hint_at_a_column_that_is_there_is_no_hint() -> None:
    assert read("Content")[2] == []


@pytest.mark.parametrize(
    "heading", ["CAS#", "CAS #", "CAS-Nr.", "CAS registry number", "CAS Number", "CAS-No.", "CAS no. b"]
)
def test_a_cas_column_by_other_names(heading: str) -> None:
    (line,), samples, said = read(f"{heading},G1", "78-70-6,40")
    assert (line.cas, samples) == ("78-70-6", ("G1",))
    assert said == [("taken-as", f"{heading}: taken as the column cas.")]


@pytest.mark.parametrize("heading", ["Compound a", "Compounda", "Compoundᵃ", "Component (a)", "Compound^a,b"])
def test_a_footnote_letter_behind_a_known_heading(heading: str) -> None:
    findings = Findings()
    (line,), samples = target_lines(table(f'"{heading}",G1\nlinalool,40\n'), findings)
    assert (line.name, samples) == ("linalool", ("G1",))
    assert [found.message for found in findings] == ["taken as the column constituent."]
