"""`reaccord verify-certificate`: a proof checked by its own numbers."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import Finding, Findings, Place, ReaccordError

if TYPE_CHECKING:
    from reaccord.certificate.format import Certificate


class CertificateRefused(ReaccordError):
    """The certificate does not prove what it claims."""

    exit_code = 5
    code = "certificate-refused"


@command()
def verify_certificate(
    file: Annotated[Path, opt.path_argument("FILE", "A certificate that fit wrote.")],
    study: Annotated[
        Path | None,
        opt.path_option("--study", "Check that the programme in it is this study's, too.", "STUDY"),
    ] = None,
    *,
    options: opt.Options,
) -> Result:
    """Check a proof in exact arithmetic, by its own numbers alone."""
    from reaccord.certificate.format import Refused, read
    from reaccord.certificate.verify import verify
    from reaccord.report.certificate import verdict_csv, verdict_data, verdict_text

    content = _content(file)
    options.guard([file])
    origin, title, warnings = None, None, tuple[Finding, ...]()
    try:
        certificate = read(content.decode("utf-8"))
        verdict = verify(certificate)
        if study is not None:
            origin, title, warnings = _origin(certificate, study, options)
    except UnicodeDecodeError:
        raise CertificateRefused(f"{file.name} is refused: it is not text in UTF-8.") from None
    except Refused as fault:
        raise CertificateRefused(f"{file.name} is refused: {fault}") from None
    data = verdict_data(certificate, verdict, origin, title)
    return Result(data, lambda width: verdict_text(data, width), lambda: verdict_csv(data), warnings=warnings)


def _content(path: Path) -> bytes:
    try:
        if path.exists() and not path.is_file() and not path.is_dir():  # it may never come to an end
            raise OSError(errno.EINVAL, "not a regular file, but a pipe or a device")
        return path.read_bytes()
    except OSError as fault:
        findings = Findings()
        findings.error("file-missing", f"cannot be read: {fault.strerror or fault}.", Place(path.name))
        findings.raise_errors()
        raise


def _origin(certificate: Certificate, path: Path, options: opt.Options) -> tuple[str, str, tuple[Finding, ...]]:
    """Return how well the programme is the study's, the study's title, and which of its files have changed since."""
    from reaccord.certificate.origin import changed_inputs, check_origin
    from reaccord.cli.inputs import read_study

    study = read_study(path, options)
    origin = check_origin(certificate, study)
    findings = Findings()
    if not certificate.inputs:
        findings.warn("input-changed", "the certificate does not say which files it was made from.")
    for name in changed_inputs(certificate, study) if certificate.inputs else ():
        text = "has changed since the certificate was made; what it states is the same."
        findings.warn("input-changed", text, Place(name))
    return origin, study.title, findings.warnings
