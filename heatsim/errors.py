"""What stops a run and what informs the reader.

One class stops (`HeatsimError`, carrying one or more `Fault`); one informs (`Finding`, returned, never raised).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong with an input: where, which rule, what value, what to do.

    Every field is text for a person; empty fields are left out of the message.
    """

    rule: str
    file: str = ""
    line: int = 0
    path: str = ""
    value: str = ""
    remedy: str = ""

    def __str__(self) -> str:
        where = ":".join(part for part in (self.file, str(self.line) if self.line else "") if part)
        head = " ".join(part for part in (where and where + ":", self.path and self.path + ":") if part)
        body = self.rule + (f", got {self.value}" if self.value else "")
        text = f"{head} {body}".strip()
        return f"{text}. {self.remedy}" if self.remedy else text + "."


class HeatsimError(Exception):
    """Bad input or an impossible request; carries every fault found.

    Parameters
    ----------
    faults : Fault or sequence of Fault
        What is wrong, in the order of the file.
    """

    def __init__(self, *faults: Fault) -> None:
        self.faults: tuple[Fault, ...] = faults
        super().__init__("\n".join(str(fault) for fault in faults))


@dataclass(frozen=True)
class Finding:
    """Something worth knowing that does not stop the run.

    `code` is stable and may be tested for; `limit` is the bound that was passed, as text with its unit.
    """

    code: str
    path: str
    message: str
    value: str = ""
    limit: str = ""
    source: str = ""
