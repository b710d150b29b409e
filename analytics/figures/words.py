"""Text alternatives: what a figure shows, in words."""

from analytics.answers.outcomes import Answer, percent


def forest_words(result: Answer) -> str:
    """State each group's rate with its interval, in the order of the figure."""
    parts = [
        f"{row.group}: {row.events} of {row.evaluable}, {percent(row.rate.estimate)} "
        f"({percent(row.rate.low)} to {percent(row.rate.high)})"
        for row in (*result.rows, result.total)
        if row.rate is not None
    ]
    if not parts:
        return "No group can be judged at this horizon yet."
    return f"Rates by {result.horizon.name} with 95% intervals. " + "; ".join(parts) + "."


def curve_words(result: Answer) -> str:
    """State where each curve ends and why."""
    parts = [
        f"{curve.group} reaches {percent(curve.incidence[-1])} at day {curve.stops_at:.0f}"
        for curve in result.curves
        if len(curve.days) > 1
    ]
    if not parts:
        return "No curve can be drawn: too few cases have been followed."
    return (
        "Cumulative incidence by the day on which the event was found, with competing events. "
        + "; ".join(parts)
        + f". Each curve ends where fewer than {result.min_at_risk} remain at risk."
    )
