"""What a password must be beyond its least length, and how hard one is to guess; both work without script."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.models import AbstractBaseUser
from django.core.exceptions import ValidationError

LONGEST = 128
"""Signs; a longer one is refused whole and never cut."""

SHORTEST = 12
LOOKED_AT = 72
"""Signs the estimate looks at: more take long, and make no password weaker."""

WEAKEST_TAKEN = 2
WORDS = (
    "guessed at once",
    "guessed in an hour by a patient program",
    "holds against guessing at the sign-in page",
    "hard to guess, even from a stolen list of hashes for a good while",
    "very hard to guess",
)
"""What the five steps of the estimate mean."""


@dataclass(frozen=True, slots=True)
class Strength:
    """How hard a password is to guess: a step from 0 to 4, its words, and what would help."""

    step: int
    words: str
    remarks: tuple[str, ...]


def strength_of(password: str, *, known: tuple[str, ...] = ()) -> Strength:
    """
    Estimate how hard a password is to guess.

    Parameters
    ----------
    password : str
        Its first 72 signs count.
    known : tuple of str
        What whoever guesses knows of the person, as the name they sign in with.
    """
    from zxcvbn import zxcvbn  # 0.2 s to load; nobody else needs it

    found = zxcvbn(password[:LOOKED_AT], user_inputs=[word for word in known if word])
    said = found["feedback"]
    remarks = [said["warning"], *said["suggestions"]]
    step = int(found["score"])
    return Strength(step, WORDS[step], tuple(remark for remark in remarks if remark))


class NotTooLong:
    """Refuses what is longer than can sensibly be typed."""

    def validate(self, password: str, user: AbstractBaseUser | None = None) -> None:
        """Refuse it whole."""
        if len(password) > LONGEST:
            raise ValidationError(
                f"Found {len(password)} characters. Wanted at most {LONGEST}: shorten it. Nothing was changed.",
                code="password_too_long",
            )

    def get_help_text(self) -> str:
        """Say it before."""
        return f"At most {LONGEST} characters."


class NotEasilyGuessed:
    """Refuses what a program that knows how people choose passwords guesses soon."""

    def validate(self, password: str, user: AbstractBaseUser | None = None) -> None:
        """Refuse it with what is wrong with it."""
        if not SHORTEST <= len(password) <= LONGEST:
            return  # refused for that already
        found = strength_of(password, known=(user.get_username() if user is not None else "",))
        if found.step < WEAKEST_TAKEN:
            why = " ".join(found.remarks)
            raise ValidationError(f"Too easy to guess ({found.words}). {why}".strip(), code="password_easily_guessed")

    def get_help_text(self) -> str:
        """Say it before."""
        return "Not one that is easily guessed."
