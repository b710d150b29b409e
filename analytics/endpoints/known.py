"""Verdicts that were worked out before: a cohort's are cut from those of all cases."""

from collections.abc import Callable, Iterable
from datetime import date
from typing import Any

import pandas as pd

from analytics.endpoints.definition import Applied, Data, EndpointDefinition

Verdicts = Callable[[EndpointDefinition], pd.DataFrame]


class CohortData(Data):
    """The data of a cohort, of which readings and complications are cut out when something asks.

    A verdict follows from its case's own rows, so `verdicts`, those of all cases, hold for every
    cohort.
    """

    def __init__(
        self,
        cases: pd.DataFrame,
        cutoff: date,
        load: Callable[[str], pd.DataFrame],
        verdicts: Verdicts,
    ) -> None:
        """Take the chosen cases, what loads a frame of all cases by its name, and all verdicts."""
        self.__dict__.update(cases=cases, cutoff=cutoff, _load=load, _verdicts=verdicts)

    def __getattr__(self, name: str) -> Any:
        """Cut a frame when it is first asked for."""
        if name not in ("readings", "complications"):
            raise AttributeError(name)
        whole = self.__dict__["_load"](name)
        found = whole.loc[whole["procedure_id"].isin(self.cases.index)]
        self.__dict__[name] = found
        return found

    def verdicts(self, definition: EndpointDefinition) -> pd.DataFrame:
        """Return the verdicts of the chosen cases."""
        whole: pd.DataFrame = self.__dict__["_verdicts"](definition)
        return whole if len(whole) == len(self.cases) else whole.loc[self.cases.index]

    def of(self, keys: Iterable[int]) -> Data:
        """Return plain data of some of the cases."""
        some = self.cases.loc[list(keys)]
        parts = [
            whole.loc[whole["procedure_id"].isin(some.index)]
            for whole in map(self.__dict__["_load"], ("readings", "complications"))
        ]
        return Data(some, parts[0], parts[1], self.cutoff)


class Known(Applied):
    """A definition whose verdicts were there already; its films are gone through when asked for."""

    def __init__(
        self,
        definition: EndpointDefinition,
        data: CohortData,
        again: Callable[[EndpointDefinition, Data], Applied],
    ) -> None:
        """Take the definition, the cohort, and what applies a definition from the start."""
        self.__dict__.update(
            definition=definition, verdicts=data.verdicts(definition), _data=data, _again=again
        )

    def __getattr__(self, name: str) -> Any:
        """Apply the definition when its films or readings are first asked for."""
        if name not in ("films", "readings"):
            raise AttributeError(name)
        found = self.__dict__["_again"](self.definition, self.__dict__["_data"])
        self.__dict__.update(films=found.films, readings=found.readings)
        return self.__dict__[name]

    def of(self, keys: Iterable[int]) -> Applied:
        """Return the definition applied to some of the cases, going through their films only."""
        some: Applied = self.__dict__["_again"](self.definition, self.__dict__["_data"].of(keys))
        return some
