"""Who is meant by a cell, and every doubt about it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from reaccord.domain.constituent import UNDECLARED, Constituent
from reaccord.findings import Findings, Place
from reaccord.names.beside_cas import beside_number
from reaccord.names.cas import check_digit_ok, looks_like_cas, normalise_cas
from reaccord.names.classes import is_class, is_figure, is_rest, is_total
from reaccord.names.decoration import CAS, undress
from reaccord.names.doubts import doubt_several, doubt_unknown
from reaccord.names.index import NameIndex
from reaccord.names.key import name_key
from reaccord.names.text import one_line, shortened

FOOTNOTE = "a number or letter in brackets behind a name: taken as a footnote mark and left out"


def settle(
    index: NameIndex,
    text: str,
    place: Place,
    findings: Findings,
    cas: str = "",
    extra_known: Collection[str] = (),
) -> Constituent:
    """Return who is meant; `NameBook.settle` says how."""
    if refused(text, place, findings):
        return Constituent(UNDECLARED)
    number = checked_cas(cas, place.at("cas"), findings)
    plain = index.plain(text)
    if plain:
        index.taken.update(((place, sentence), None) for sentence in plain.left_out)
        inside = checked_cas(plain.cas, place, findings)
        return _undressed(index, one_line(plain.name), (inside, number), place, findings)
    if looks_like_cas(text) and not number:
        number = checked_cas(text, place, findings)
    by_name = index.find(text)
    if by_name:
        return _known(index, text, by_name, number, place, findings)
    name = one_line(text) or number
    if not name:
        findings.error("name-missing", "a constituent needs a name or a CAS number.", place)
        return Constituent("")
    return _unknown(index, name, number, place, findings, extra_known)


def _known(
    index: NameIndex, text: str, by_name: Constituent, number: str, place: Place, findings: Findings
) -> Constituent:
    name, by_cas = one_line(text), index.find(number) if number else None
    index.mention(by_name.name, place)
    if index.footnote(text):
        index.taken[place, FOOTNOTE] = None
    elif not index.as_written(text):
        by_name = index.put(replace(by_name, synonyms=(*by_name.synonyms, name)))
    elif name_key(text) in index.numbered:  # known by an earlier row's number alone: the doubt is that of every row
        if by_cas and by_cas.name == by_name.name:
            return beside_number(index, name, by_cas, number, (place, place.at("cas")), findings)
        index.by_number[place] = (name, by_name.name)
    return _agreed(index, by_name, number, place.at("cas"), findings)


def _unknown(
    index: NameIndex, name: str, number: str, place: Place, findings: Findings, extra_known: Collection[str]
) -> Constituent:
    inside = _cas_inside(name, number, place, findings)
    if inside:
        index.taken[place, CAS] = None
        number = number or inside
    by_cas = index.find(number) if number else None
    several = (by_cas or not number) and doubt_several(index, name, place, findings)
    if by_cas:
        index.mention(by_cas.name, place)
        cells = (place, place if inside else place.at("cas"))
        return by_cas if name == number else beside_number(index, name, by_cas, number, cells, findings)
    of_many = not number and _of_many(name, place, findings)
    open_question = not several and not number
    doubted = not of_many and doubt_unknown(index, name, place, findings, extra_known, remarks=open_question)
    found = index.put(Constituent(name=name, cas=number))
    index.unknown[found.name] = {place.file: place}
    if several or of_many or doubted:
        index.doubted.add(found.name)
    return found


def _undressed(index: NameIndex, name: str, numbers: tuple[str, str], place: Place, findings: Findings) -> Constituent:
    """Return who goes by a name, or by the number that stood beside it; all three must agree."""
    inside, beside = numbers
    by_name = index.find_lasting(name)
    found = index.known[by_name] if by_name else index.find(inside)
    if found is None:  # its number was wrong, which is said
        return Constituent(name)
    if inside and not by_name:
        beside_number(index, name, found, inside, (place, place), findings)
    elif inside:
        found = _agreed(index, found, inside, place, findings)
    return _agreed(index, found, beside, place.at("cas"), findings)


def _cas_inside(name: str, number: str, place: Place, findings: Findings) -> str:
    """Return the CAS number that stands with a name in one cell, if it is one; another than the row's is an error."""
    inside = undress(name).cas
    if not check_digit_ok(inside):
        return ""
    if number and inside != number:
        text = f'"{shortened(name)}" stands beside CAS {number}. Keep the number that is meant.'
        findings.error("name-cas-disagree", text, place.at("cas"))
    return inside


def checked_cas(text: str, place: Place, findings: Findings) -> str:
    """Return the CAS number in its usual spelling; an error and an empty text if it cannot be one."""
    if not text.strip():
        return ""
    number = normalise_cas(text)
    if check_digit_ok(number):
        return number
    why = "its check digit does not fit" if looks_like_cas(number) else "it should look like 106-24-1"
    findings.error("bad-cas", f'"{shortened(text.strip())}" is not a CAS number: {why}. Look it up again.', place)
    return ""


def refused(name: str, place: Place, findings: Findings) -> bool:
    """Whether the name is reserved or a bare number, which is an error."""
    if name_key(name) == UNDECLARED:
        text = f'"{UNDECLARED}" is no constituent: it stands for what nobody declares, and follows from the others.'
        findings.error("reserved-name", f"{text} Leave it out here.", place)
        return True
    if any(map(str.isdigit, name)) and not any(map(str.isalpha, name)) and not looks_like_cas(name):
        text = (
            f'"{shortened(name.strip())}" is a number, not the name of a constituent. If it only counts the rows, take '
        )
        findings.error("number-name", f"{text}that column out, or head the column of the names as this one.", place)
        return True
    return False


def _of_many(name: str, place: Place, findings: Findings) -> bool:
    """Whether the name is a total, a figure, a class or the rest of an analysis, which is an error."""
    it = f'"{shortened(name)}" is'
    if is_total(name) or is_figure(name):
        text = f"{it} no constituent: it adds others up, or says something of the whole. Take it out."
        findings.error("no-constituent", text, place)
    elif is_class(name):
        text = f"{it} a class of constituents, not one: its members count already where they are listed. Take it out; "
        findings.error("class-row", f"{text}or give it its members in the constituents table.", place)
    elif is_rest(name):
        text = f"{it} no constituent: what the rows leave to 100 % is undeclared anyway. Take it out; in a composition "
        findings.error("rest-row", f"{text}it may be called undeclared.", place)
    else:
        return False
    return True


def _agreed(index: NameIndex, by_name: Constituent, number: str, place: Place, findings: Findings) -> Constituent:
    by_cas = index.find(number) if number else None
    if not number or (by_cas and by_cas.name == by_name.name):
        return by_name
    if by_cas is None and not by_name.cas:
        return index.put(replace(by_name, cas=number))
    kinship = _kinship(index, by_name, by_cas) if by_cas else ""
    if by_cas and kinship:  # analyses print the number of the usual isomer beside the broad name
        findings.warn("taken-as", f'{number} is "{by_cas.name}", {kinship}; taken as what the name says.', place)
        return by_name
    findings.error("name-cas-disagree", _disagreement(by_name, by_cas, number), place)
    return by_name


def _kinship(index: NameIndex, by_name: Constituent, by_cas: Constituent) -> str:
    """Return how the owners of a name and of a number are a sum and its member; "" if they are not."""
    if by_cas.name in index.covers(by_name.name):
        return f'only a part of "{by_name.name}"'
    return f'which takes in more than "{by_name.name}"' if by_name.name in index.covers(by_cas.name) else ""


def _disagreement(by_name: Constituent, by_cas: Constituent | None, number: str) -> str:
    known_as = f"as CAS {by_name.cas}" if by_name.cas else "without a CAS number"
    start = f'"{by_name.name}" is known {known_as}'
    if by_cas is None:
        return (
            f"{start}, not as {number}. Mend one of them; if both are the same substance, "
            f"put {number} among its synonyms in the constituents table."
        )
    return f'{start}, but {number} is "{by_cas.name}". Keep the one that is meant.'
