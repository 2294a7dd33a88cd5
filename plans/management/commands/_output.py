"""How a command says that its input cannot be used."""

import sys
from typing import NoReturn

from django.core.management.base import BaseCommand


def fail(command: BaseCommand, problems: list[str]) -> NoReturn:
    """One line per problem on the error stream, then exit status 2."""
    for problem in problems:
        command.stderr.write(problem)
    sys.exit(2)
