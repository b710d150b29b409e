"""'Which construct does better?' as a section for paper: as it is, and adjusted for what is named."""

from collections.abc import Iterable

from analytics.answers.comparison import COX, Comparison, Model, to_rows
from analytics.figures.contrasts import ratio_text
from analytics.figures.sections import About, Figure, Section, Table
from analytics.figures.svg_contrasts import differences, ratios

METHODS = ("wilson", "newcombe", "firth", "cox")
OBSERVATIONAL = (
    "Observational: not a treatment effect. Surgeons chose the construct for the injury before them; what "
    "is not recorded cannot be adjusted for."
)


def section(
    key: str, title: str, result: Comparison, about: About, adjusted: Iterable[str] = ()
) -> Section:
    """Return each group's difference to the reference, and models; `adjusted` names their covariates."""
    if not result.contrasts:
        return Section(key, title, result.sentence, methods=METHODS[:2])
    named = "; ".join(adjusted)
    models = [model for model in result.models if not model.refused]
    return Section(
        key=key,
        title=title,
        sentence=result.sentence,
        tables=(_table(key, result, about), *(_model_table(one, result, about) for one in models)),
        figures=(
            Figure(_caption(result, about), differences(result)),
            *(_model_figure(one, result, about, named) for one in models),
        ),
        notes=(OBSERVATIONAL, *_notes(result, named)),
        methods=METHODS if models else METHODS[:2],
    )


def _caption(result: Comparison, about: About) -> str:
    return about.caption(
        f"Each group against {result.against} "
        f"({result.reference.events}/{result.reference.evaluable}) by {result.horizon.name}",
        "Difference in percentage points with Newcombe's 95% interval; unadjusted",
        result.definition.label,
    )


def _notes(result: Comparison, named: str) -> Iterable[str]:
    if result.too_few:
        yield f"Not compared, because too few of them can be judged: {', '.join(result.too_few)}."
    if named and result.models:
        lacking = "; ".join(f"{count} without {words}" for words, count in result.left_out.items())
        left = f"Left out because not recorded: {lacking}" if lacking else "Nobody was left out"
        yield f"Adjusted for: {named}. {left}. As it is and adjusted are of the same cases."
    for model in result.models:
        if model.refused or model.note:
            yield f"{_name(model)}: {model.refused or model.note}"


def _name(model: Model) -> str:
    return f"{model.kind[:1].upper()}{model.kind[1:]}"


def _model_figure(model: Model, result: Comparison, about: About, named: str) -> Figure:
    method = (
        "Cause-specific Cox model by the day of detection; a revision or a death ends the watch"
        if model.kind == COX
        else "Firth's logistic regression, profile-likelihood intervals"
    )
    caption = about.caption(
        f"{_name(model)}, {model.events} events in {model.used} cases",
        f"{method}. Open: as it is; filled: adjusted for {named or 'nothing'}; 95% intervals, log axis",
        result.definition.label,
    )
    return Figure(caption, ratios(model, result.against))


def _model_table(model: Model, result: Comparison, about: About) -> Table:
    return Table(
        caption=about.caption(
            f"{_name(model)}: every coefficient as a ratio, with its 95% interval",
            "",
            result.definition.label,
        ),
        head=("Term", "As it is", "Adjusted"),
        rows=tuple(
            (
                effect.term,
                ratio_text(effect.unadjusted) if effect.unadjusted else "not asked",
                ratio_text(effect.adjusted),
            )
            for effect in (*model.groups, *model.others)
        ),
        widths=(2.0, 1.4, 1.4),
    )


def _table(key: str, result: Comparison, about: About) -> Table:
    caption = about.caption(
        f"Each group against {result.against} by {result.horizon.name}",
        "Difference in percentage points with Newcombe's 95% interval, and ratio of the rates with "
        "Koopman's; unadjusted",
        result.definition.label,
    )
    rows = tuple(
        (
            one.group,
            f"{one.own.events}/{one.own.evaluable}",
            (
                f"{_points(one.difference.estimate)} "
                f"({_points(one.difference.low)} to {_points(one.difference.high)})"
            ),
            ratio_text(one.ratio),
        )
        for one in result.contrasts
    )
    return Table(
        caption=caption,
        head=("Group", "Events", "Difference, points (95% interval)", "Ratio (95% interval)"),
        rows=rows,
        numbers=(1,),
        widths=(1.0, 1.0, 2.4, 2.4),
        name=key,
        data=tuple(to_rows(result)),
    )


def _points(share: float) -> str:
    return f"{share * 100:+.1f}"
