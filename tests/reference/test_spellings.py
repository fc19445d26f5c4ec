"""Every built-in name in the spellings a table may give it, and the names that the open `chemicals` package lists.

The variants are made here by rules of their own, not by the look-up's. Each must lead to the same record or be doubted;
none may become a constituent of its own in silence, none may lead to another record.

The package's offline lists of synonyms (made from public records) hold trade names, systematic names, brands and codes
of one number, often of its isomers too. They are asked for names that lead elsewhere, and counted.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

import pytest
from tests.reference.test_registry import LACKS, MERGES, WRONG

from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.cas import looks_like_cas
from reaccord.names.key import name_key
from reaccord.names.reading import reading
from reaccord.names.registry import read_registry

identifiers = pytest.importorskip("chemicals.identifiers")
search_chemical = identifiers.search_chemical

REGISTRY = read_registry()
AT = Place("target.csv", 4, "constituent")
GREEK = {"alpha": "α", "beta": "β", "gamma": "γ", "delta": "δ", "epsilon": "ε", "tau": "τ"}
STRAIGHT = re.compile(
    r"(?:1-)?(?:prop|but|pent|hex|hept|oct|non|dec|undec|dodec|tridec|tetradec|pentadec|hexadec|heptadec|octadec|nonadec|"
    r"eicos|heneicos|docos|tricos|pentacos|heptacos)(?:ane|anal|anol|anoic acid|yl (?!a?ldehyde).*)"
)
IN_FRONT = re.compile(
    r"((?:\((?:[EZRS],?|[+-])+\)|alpha|beta|gamma|delta|epsilon|tau|cis|trans|[opmdl]|dl|epi|10-epi|\d+-epi)-)(?=[A-Za-z\d(])(.+)"
)
ESTER = re.compile(r"(\S+yl) ([a-z]+ate)")
ACID = re.compile(r"([a-z]+ic) acid")


def written(constituent_names: tuple[str, ...]) -> list[str]:
    return [name for name in constituent_names if not looks_like_cas(name)]


def variants(name: str) -> Iterator[str]:
    """Yield other spellings of a name that mean the same to a chemist."""
    for ways in (as_typed, with_descriptors_elsewhere, straight_chains, turned_round, with_locants_elsewhere):
        yield from ways(name)


def as_typed(name: str) -> Iterator[str]:
    yield from (name.upper(), name.capitalize(), f"  {name} ", name.replace("-", "‐"))
    if not re.search(r"\d-\d", name):
        yield name.replace("-", " - ")
    for word, letter in GREEK.items():
        spelt = re.sub(rf"(?<![a-z]){word}(?![a-z])", letter, name)
        if spelt != name:
            yield spelt
            yield re.sub(rf"(?<![a-z]){word}(?![a-z])", f".{word}.", name)
            yield re.sub(rf"(?<![a-z]){word}-", f"{word} ", name)
    for short, long in (("p", "para"), ("o", "ortho"), ("m", "meta")):
        yield re.sub(rf"(?<![a-z]){short}-(?=[a-z])", f"{long}-", name)


def with_descriptors_elsewhere(name: str) -> Iterator[str]:
    front = IN_FRONT.fullmatch(name)
    if not front or re.match(r"[a-z]*-?2,cis-|\w-ethyl", name.removeprefix("trans-")):
        return
    mark, rest = front[1].rstrip("-"), front[2]
    yield f"{rest}, {mark}"
    yield f"{rest}, {mark}-"
    if not re.fullmatch(r"[dl]", mark):
        yield f"{rest} ({mark.strip('()')})"
    if len(mark) > 2 and "epi" not in mark and not re.search(r"\([-+RS]", mark):
        yield f"{rest} {mark.strip('()')}" if "," not in mark else f"{rest} {mark}"
    both = IN_FRONT.fullmatch(rest)
    if both and both[1] not in {"p-", "o-", "m-"}:
        yield f"{both[2]}, {both[1]}{mark}"
        yield f"{both[1]}{mark}-{both[2]}"
        yield f"{both[1]}{both[2]} {mark}" if mark.startswith("(") else f"{both[1]}{both[2]}, {mark}"


def straight_chains(name: str) -> Iterator[str]:
    if STRAIGHT.fullmatch(name):
        yield f"n-{name.removeprefix('1-')}"
        yield f"{name.removeprefix('1-')}, n-"
    if STRAIGHT.fullmatch(name) and name.endswith("anal"):
        yield f"{name.removesuffix('anal')}yl aldehyde"
        yield f"n-{name.removesuffix('anal')}yl aldehyde"
    number = re.fullmatch(r"(aldehyde|alcohol) C-(\d+)", name)
    if number:
        yield from (f"C-{number[2]} {number[1]}", f"{number[1]} C{number[2]}", f"C{number[2]} {number[1]}")


def turned_round(name: str) -> Iterator[str]:
    ester = ESTER.fullmatch(name)
    if ester and ester[2] not in {"carbonate", "malonate", "sebacate", "citrate", "phthalate"}:
        yield f"{ester[2]}, {ester[1]}"
        yield f"{ester[2].removesuffix('ate')}ic acid, {ester[1]} ester"
        yield f"{ester[2].removesuffix('ate')}ic acid {ester[1]} ester"
    acid = ACID.fullmatch(name)
    if acid:
        yield f"acid, {acid[1]}"


def with_locants_elsewhere(name: str) -> Iterator[str]:
    locants = re.fullmatch(r"(\d+)-((?:but|pent|hex|hept|oct|non|dec|undec|dodec|tridec)an)(ol|one)", name)
    if locants:
        yield f"{locants[2]}-{locants[1]}-{locants[3]}"
        yield f"{locants[2]}{locants[3]}-{locants[1]}"
    double = re.fullmatch(r"(\([EZ]\)-|cis-|trans-)?(\d+)-((?:hex|hept|oct|non|dec|undec|dodec))en(al|ol|yl .*)", name)
    if double:
        mark, place, stem, ending = double.groups()
        yield f"{mark or ''}{stem}-{place}-en{ending}"
        yield f"{stem}-{place}-en{ending}, {mark}" if mark else f"{stem}-{place}-en{ending}"
        if mark and mark.startswith("("):
            yield f"({place}{mark[1]})-{stem}en{ending}"
            yield f"({place}{mark[1]})-{stem}-{place}-en{ending}"
            yield f"{mark[1]}-{place}-{stem}en{ending}"


def outcome(book: NameBook, name: str, text: str) -> str:
    """Say what becomes of a spelling: the same record, a doubt, silence, or the name of another record."""
    found = book.find(text)
    if found is not None:
        return "same" if found.name == name else found.name
    findings = Findings()
    NameBook.build((), findings).settle(text, AT, findings)
    return "doubted" if list(findings) else "silent"


@pytest.fixture(scope="module")
def book() -> NameBook:
    return NameBook.build((), Findings())


def test_no_two_records_have_one_reading() -> None:
    owner: dict[object, str] = {}
    for constituent in REGISTRY:
        for text in written((constituent.name, *constituent.synonyms)):
            other = owner.setdefault(reading(text), constituent.name)
            assert other == constituent.name, (text, other, constituent.name)


def test_every_variant_finds_its_record_or_is_doubted(book: NameBook) -> None:
    counted: Counter[str] = Counter()
    wrong = []
    for constituent in REGISTRY:
        for name in written((constituent.name, *constituent.synonyms)):
            for text in dict.fromkeys(variants(name)):
                what = outcome(book, constituent.name, text)
                counted[what if what in {"same", "doubted"} else "wrong"] += 1
                if what not in {"same", "doubted"}:
                    wrong.append((name, text, what))
    assert wrong == []
    assert counted["same"] > 14_000
    assert counted["doubted"] < 0.01 * counted["same"]


# Names that the package lists under the number of another record than they say, each gone through by hand.
SAYS_OTHERWISE = {
    "(+-)-menthol": "menthol",
    "(+/-)-menthol": "menthol",
    "(3e)-3,7-dimethyl-octa-1,3,6-triene": "(E)-beta-ocimene",
    "(3e)-3,7-dimethylocta-1,3,6-triene": "(E)-beta-ocimene",
    "(e)-furanoid linalool oxide": "trans-linalool oxide (furanoid)",
    ".alpha.-farnesene": "alpha-farnesene",
    ".alpha.-trans-bergamotene": "trans-alpha-bergamotene",
    ".beta.-farnesene": "beta-farnesene",
    ".beta.-sinensal": "beta-sinensal",
    ".beta.-trans-ocimene": "(E)-beta-ocimene",
    ".delta.-undecalactone": "delta-undecalactone",
    "2-Methoxy-4-propenylphenol (isoeugenol)": "isoeugenol",
    "2-hexen-1-ol, (2z)-": "(Z)-2-hexen-1-ol",
    "2-methylbutyl ethanoate": "2-methylbutyl acetate",
    "3-p-menthanol": "menthol",
    "7-epi-.alpha.-selinene": "7-epi-alpha-selinene",
    "anethol": "anethole",
    "anisole, p-propenyl-": "anethole",
    "benzyl-3-methyl butanoate": "benzyl isovalerate",
    "beta-phenethyl alcohol": "2-phenylethanol",
    "butanoic acid, 3-methyl-, phenylethyl ester": "2-phenylethyl isovalerate",
    "butanoic acid, phenylethyl ester": "2-phenylethyl butyrate",
    "citronellol,(d)": "citronellol",
    "d,l-menthol": "menthol",
    "d-neomenthol": "neomenthol",
    "dihydrocarvone, cis-": "cis-dihydrocarvone",
    "epi-.alpha.-bisabolol": "epi-alpha-bisabolol",
    "ethylpentylcarbinol": "3-octanol",
    "geranyl acetate, cis-": "neryl acetate",
    "i-menthol": "isomenthol",
    "isoeugenol z": "(Z)-isoeugenol",
    "limonene oxide, cis-": "cis-limonene oxide",
    "limonene oxide, trans-": "trans-limonene oxide",
    "linalool oxide trans": "trans-linalool oxide (furanoid)",
    "menthol racemic": "menthol",
    "menthol, (+)-neo-": "neomenthol",
    "menthol, acetate, iso-": "isomenthyl acetate",
    "menthol, acetate, neo-": "neomenthyl acetate",
    "menthol, dl-": "menthol",
    "menthol, neo-": "neomenthol",
    "neomenthol acetate": "neomenthyl acetate",
    "nerolidol (e)": "(E)-nerolidol",
    "neryl 2-methylpropanoate": "neryl isobutyrate",
    "neryl ethanoate": "neryl acetate",
    "phenol, 2-methoxy-4-propenyl-": "isoeugenol",
    "phenylethyl propanoate": "2-phenylethyl propionate",
    "propanoic acid, 3,7-dimethyl-6-octenyl ester": "citronellyl propionate",
    "pyranoid linalool oxide, cis": "cis-linalool oxide (pyranoid)",
    "pyranoid linalool oxide, trans": "trans-linalool oxide (pyranoid)",
    "rac-menthol": "menthol",
    "terpinene, alpha": "alpha-terpinene",
    "terpineol acetate": "terpinyl acetate",
    "terpineol, acetate": "terpinyl acetate",
    "trans-.alpha.-bergamotene": "trans-alpha-bergamotene",
    "trans-furanoid linalool oxide": "trans-linalool oxide (furanoid)",
}


def listed() -> Iterator[tuple[str, str]]:
    """Yield the built-in name and each synonym that the package lists for its number, where it has that very number."""
    seen: set[str] = set()
    for constituent in REGISTRY:
        number = constituent.cas
        if number and number not in LACKS and number not in MERGES and number not in WRONG:
            record = search_chemical(number)
            for text in dict.fromkeys((record.common_name, record.iupac_name, *record.synonyms)):
                if text and not looks_like_cas(text) and text not in seen:
                    seen.add(text)
                    yield constituent.name, text


def test_a_listed_name_is_read_as_another_record_only_where_it_says_so(book: NameBook) -> None:
    as_written = {name_key(text) for c in REGISTRY for text in written((c.name, *c.synonyms))}
    elsewhere = {}
    for name, text in listed():
        found = book.find(text)
        if found is not None and found.name != name and name_key(text) not in as_written:
            elsewhere[text] = found.name
    assert elsewhere == SAYS_OTHERWISE


def test_more_of_the_listed_names_are_found_than_by_their_letters(book: NameBook) -> None:
    # In version 1.5 of the package these are 15652 names. 1556 are known as written; most others are systematic names,
    # brands and codes.
    found = sum(book.find(text) is not None for _, text in listed())
    assert found > 3600


# Names that the package lists under a substance of another formula than they say, each gone through by hand.
SAYS_ANOTHER_FORMULA = {
    "(9z,12z)-octadeca-9,12-dienoic acid": "linoleic acid",
    "(cis)-9-octadecenoic acid": "oleic acid",
    "(z)-octadec-9-enoic acid": "oleic acid",
    ".beta.-terpineol": "beta-terpineol",
    "2-phenylethanoic acid": "phenylacetic acid",
    "3,7-dimethyl-6-octenyl formate": "citronellyl formate",
    "acetic acid, 1-phenylethyl ester": "styrallyl acetate",
    "butanoic acid,": "butyric acid",
    "butanoic acid, 3-methyl-, phenylethyl ester": "2-phenylethyl isovalerate",
    "citronellol,(d)": "citronellol",
    "coumarin,": "coumarin",
    "ethanol, 1-acetate": "ethyl acetate",
    "ethanol, propanoate": "ethyl propionate",
    "ethanol, propionate": "ethyl propionate",
    "menthol, neo-": "neomenthol",
    "neryl 2-methylpropanoate": "neryl isobutyrate",
    "propanoic acid, 3,7-dimethyl-6-octenyl ester": "citronellyl propionate",
}


@pytest.mark.sweep
def test_no_name_of_any_substance_is_read_as_one_of_another_formula(book: NameBook) -> None:
    """Ask for the 0.7 million names of all 76522 substances of the package, ours among them."""
    with pytest.raises(ValueError, match="not recognized"):
        search_chemical("a name that nothing has")  # loads all of it
    as_written = {name_key(text) for c in REGISTRY for text in (c.name, c.cas, *c.synonyms)}
    asked, elsewhere = 0, {}
    for record in identifiers.pubchem_db.CAS_index.values():
        for text in dict.fromkeys((record.common_name, record.iupac_name, *(record.synonyms or ()))):
            if text and len(text) <= 80 and not looks_like_cas(text) and name_key(text) not in as_written:
                asked += 1
                found = book.find(text)
                if found is not None and found.formula != record.formula:
                    elsewhere[text] = found.name
    assert asked > 500_000
    assert elsewhere == SAYS_ANOTHER_FORMULA
