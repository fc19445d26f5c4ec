"""Blends opened to any depth, high ends, loops."""

from __future__ import annotations

import pytest
from tests.studies import errors_of, stock, study, told

from reaccord.study.composition import dilute, pure


def test_blends_inside_blends() -> None:
    made = study(
        bottles="material,constituent,purity\nOuter,,\nInner,,\nGeraniol,geraniol,90",
        compositions="material,part,share,part_kind\n"
        "Outer,Inner,50,\nOuter,citronellol,40,\nInner,Geraniol,20,material\nInner,nerol,70,",
    )
    content = stock(made, "Outer").content
    assert content.typical == pytest.approx({"geraniol": 0.09, "nerol": 0.35, "citronellol": 0.4})
    # 10 % of Outer, 10 % of Inner and 10 % of the geraniol are undeclared
    assert content.undeclared == pytest.approx(0.1 + 0.5 * 0.1 + 0.1 * 0.1)
    assert content.materials == pytest.approx({"Outer": 1, "Inner": 0.5, "Geraniol": 0.1})
    assert sum(content.typical.values()) + content.undeclared == pytest.approx(1)


def test_blends_to_a_depth_no_stack_would_hold() -> None:
    depth = 1500
    bottles = "material\n" + "\n".join(f"B{i}" for i in range(depth))
    parts = "\n".join(f"B{i},B{i + 1},100" for i in range(depth - 1))
    made = study(
        bottles=bottles, compositions=f"material,part,share\n{parts}\nB{depth - 1},geraniol,60\nB{depth - 1},nerol,1"
    )
    assert stock(made, "B0").content.typical == pytest.approx({"geraniol": 0.6, "nerol": 0.01})


def test_a_diluted_part_brings_its_carrier() -> None:
    made = study(
        bottles="material,constituent,purity\nBlend,,\nGeraniol,geraniol,100",
        compositions="material,part,share,part_kind,strength,carrier\n"
        "Blend,Geraniol,50,material,10,DPG\nBlend,citronellol,50,,,",
    )
    blend = stock(made, "Blend")
    assert blend.content.typical == pytest.approx({"geraniol": 0.05, "dipropylene glycol": 0.45, "citronellol": 0.5})
    assert blend.content.materials == pytest.approx({"Blend": 1, "Geraniol": 0.05})
    assert blend.carrier_share == pytest.approx(0.45)
    assert "dipropylene glycol" in made.carriers


def test_the_high_end_at_every_level() -> None:
    made = study(
        bottles="material\nOuter\nInner",
        compositions="material,part,share,high\n"
        "Outer,Inner,10,20\nOuter,geraniol,80,\nInner,safrole,5,10\nInner,citronellol,tr,",
    )
    content = stock(made, "Outer").content
    assert content.typical["safrole"] == pytest.approx(0.1 * 0.05)
    assert content.high["safrole"] == pytest.approx(0.2 * 0.1)
    assert content.typical["citronellol"] == pytest.approx(0.1 * 0.00025)  # tr: 0.025 %
    assert content.high["citronellol"] == pytest.approx(0.2 * 0.0005)  # at most 0.05 %
    assert content.materials["Inner"] == pytest.approx(0.2)


def test_not_detected_is_nothing() -> None:
    made = study(bottles="material\nOil", compositions="material,part,share\nOil,geraniol,90\nOil,safrole,nd")
    assert stock(made, "Oil").content.high["safrole"] == 0


def test_undeclared_on_purpose() -> None:
    made = study(
        bottles="material,constituent,purity\nGeraniol,geraniol,100\nMystery,,",
        compositions="material,part,share\nMystery,Undeclared,100",
    )
    assert stock(made, "Mystery").content.undeclared == 1
    assert stock(made, "Mystery").active == 1


@pytest.mark.parametrize(
    ("parts", "sentence"),
    [
        (["A,B,50", "B,A,50"], "a blend cannot hold itself: A in B in A."),
        (["C,B,50", "B,A,50", "A,C,5"], "a blend cannot hold itself: A in B in C in A."),
    ],
)
def test_a_loop_is_named(parts: list[str], sentence: str) -> None:
    table = "material,part,share\n" + "\n".join([*parts, "A,geraniol,10"])
    for text in (table, "\n".join([table.splitlines()[0], *table.splitlines()[:0:-1]])):
        errors = errors_of(bottles="material\nA\nB\nC" if "C" in table else "material\nA\nB", compositions=text)
        assert [(f.code, f.message) for f in errors] == [("loop", sentence)]


def test_a_material_in_itself() -> None:
    errors = errors_of(
        bottles="material\nA", compositions="material,part,share,part_kind\nA,A,50,material\nA,geraniol,50,"
    )
    assert told(errors) == [
        (
            "loop",
            "compositions.csv, row 2, column part: a blend cannot hold itself: A in A. "
            "If the constituent of that name is meant, write constituent in part_kind.",
        )
    ]


def test_two_loops_are_two_errors() -> None:
    errors = errors_of(
        bottles="material\nA\nB\nC\nD", compositions="material,part,share\nA,B,50\nB,A,50\nC,D,50\nD,C,50"
    )
    assert sorted(f.message for f in errors) == [
        "a blend cannot hold itself: A in B in A.",
        "a blend cannot hold itself: C in D in C.",
    ]


def test_a_bottle_that_nothing_describes() -> None:
    errors = errors_of(
        bottles="material,constituent,purity\nGeraniol,geraniol,100\nRose oil,,\nMusk,,",
        compositions="material,part,share\nRoes oil,geraniol,80",
    )
    assert told(errors) == [
        (
            "no-composition",
            'bottles.csv, row 3, column material: nothing says what "Rose oil" is made of. Give constituent and '
            "purity, or add its rows to the compositions, or the part undeclared with share 100. "
            'Did you mean "Roes oil"?',
        ),
        (
            "no-composition",
            'bottles.csv, row 4, column material: nothing says what "Musk" is made of. Give constituent and '
            "purity, or add its rows to the compositions, or the part undeclared with share 100.",
        ),
    ]


def test_a_part_that_nothing_describes() -> None:
    errors = errors_of(
        bottles="material\nBlend\nBase",
        compositions="material,part,share\nBlend,Base,50\nBlend,geraniol,50",
    )
    assert told(errors)[0] == (
        "no-composition",
        'compositions.csv, row 2, column part: nothing says what "Base" is made of. Add its rows to the '
        "compositions, or the part undeclared with share 100.",
    )


def test_a_compositions_table_that_cannot_be_used_is_one_error_only() -> None:
    errors = errors_of(bottles="material\nA\nB\nC", compositions="material,part\nA,geraniol")
    assert [f.code for f in errors] == ["missing-column"]


def test_diluting() -> None:
    content = dilute(pure("a"), 0.25, pure("b"))
    assert content.typical == {"a": 0.25, "b": 0.75}
    assert dilute(pure("a"), 1.0, pure("b")) == pure("a")
