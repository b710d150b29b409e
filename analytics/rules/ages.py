"""How old something is, in words."""

from datetime import timedelta

MINUTE, HOUR, DAY = 60, 3600, 86_400


def age_words(age: timedelta) -> str:
    """Write an age in the largest unit of which there are at least two; younger than a minute is new.

    An age below nothing, which clocks that differ can give, is new too.
    """
    seconds = age.total_seconds()
    if seconds < MINUTE:
        return "less than a minute old"
    size, word = MINUTE, "minute"
    for larger, its_word in ((HOUR, "hour"), (DAY, "day")):
        if seconds >= 2 * larger:
            size, word = larger, its_word
    number = int(seconds // size)
    return f"{number} {word}{'' if number == 1 else 's'} old"
