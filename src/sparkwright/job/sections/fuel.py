"""What the engine burns, and with how much air."""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from sparkwright.errors import Key, phrase
from sparkwright.job.described import described
from sparkwright.job.field_kind import Choice, Number
from sparkwright.job.list_kinds import Numbers
from sparkwright.job.problems import Conflict
from sparkwright.job.sections.bounds import LAMBDA, MANIFOLD_KPA, MOST_NODES, NO_SUCH_FUEL
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag

_GAS = (
    "a gas burns slower and knocks by other laws, and this program has neither: plan the petrol map here, "
    "and have the gas map set on a dyno by who is licensed for gas"
)
NOT_COMPUTED = {
    "LPG": _GAS,
    "propane": _GAS,
    "natural gas": _GAS,
    "CNG": _GAS,
    "hydrogen": _GAS,
    "ethanol": 'write kind = "petrol" with ethanol_percent = 85, or what the pump says',
    "E85": 'write kind = "petrol" with ethanol_percent = 85',
    "methanol": "its flame, its cooling and its knock are not in this program; set it on a dyno from the "
    "late side",
    "kerosene": "its octane lies far below what the knock law was held against; keep the engine's own curve",
    "switching": "a map holds for one fuel: make one job for each, load the later map, or the one of the "
    "fuel that knocks sooner where the controller can't switch",
}
"""Other fuels, and what a person who runs one should do."""

NOT_COUNTED = {
    "water injection": "plan without it: the map must hold when the tank is empty or the jet blocked; what "
    "it allows beyond is found on a dyno",
    "nitrous": "no map of this program holds while it sprays: flame and heat are not in it. Plan without "
    "it, and let the supplier's own retard take over by its own switch",
    "octane booster": "state the octane number that the mixture was measured to have, or plan without it",
}
"""What some add to the charge, and what to do about it."""


class Fuel(Section):
    """What the engine burns."""

    kind: Annotated[
        Literal["petrol"],
        Choice(("petrol",), NOT_COMPUTED, "other fuels are not computed"),
        Tag("Kind of fuel"),
    ] = Field(
        default="petrol",
        description='What kind of fuel, ethanol blends included. Only "petrol" is computed, and it is '
        "assumed.",
        examples=["petrol"],
    )
    addition: Annotated[
        Literal["none"], Choice(("none",), NOT_COUNTED, "no addition is computed"), Tag("Added beside fuel")
    ] = Field(
        default="none",
        description='What is added to the charge beside fuel. Only "none" is computed, and it is assumed.',
        examples=["none"],
    )

    ron: Annotated[
        float | None,
        Number(40, 130, NO_SUCH_FUEL, unit="RON"),
        Tag("Research octane number (RON)", starter=True, often=3),
    ] = Field(
        default=None, description="Research octane number. At least one of ron, mon, aki.", examples=[95]
    )
    mon: Annotated[
        float | None, Number(40, 120, NO_SUCH_FUEL, unit="MON"), Tag("Motor octane number (MON)")
    ] = Field(default=None, description="Motor octane number.", examples=[85])
    aki: Annotated[
        float | None, Number(40, 125, NO_SUCH_FUEL, unit="AKI"), Tag("Anti-knock index (AKI)", first=True)
    ] = Field(default=None, description="Half the sum of both, as on some pumps.", examples=[90])
    ethanol_percent: Annotated[
        float, Number(0, 100, "it is a share of the volume"), Tag("Ethanol", often=3)
    ] = Field(
        default=0,
        description=described(
            "Ethanol, percent of volume.",
            "0 is assumed.",
        ),
        examples=[0],
    )
    lambda_full: Annotated[float | None, LAMBDA, Tag("Lambda at full load")] = Field(
        default=None, description="Lambda at full load; planning assumes one when not given.", examples=[0.88]
    )
    lambda_boost: Annotated[float | None, LAMBDA] = Field(
        default=None,
        description="Lambda under boost, 0.78 to 0.82 as a rule; planning assumes one when not given.",
        examples=[0.80],
    )
    lambda_cruise: Annotated[float | None, LAMBDA, Tag("Lambda at part load")] = Field(
        default=None, description="Lambda at part load; planning assumes one when not given.", examples=[1.0]
    )
    lambda_idle: Annotated[float | None, LAMBDA, Tag("Lambda at idle")] = Field(
        default=None, description="Lambda at idle; planning assumes one when not given.", examples=[0.95]
    )
    mixture_kpa: Annotated[
        tuple[float, ...] | None,
        Numbers(MANIFOLD_KPA, 2, MOST_NODES, rising=True),
        Tag(
            "Pressures of a lambda table",
            hint="Manifold pressures of a lambda table, rising, instead of the three lambdas above.",
        ),
    ] = Field(
        default=None,
        description="Manifold pressures of a lambda table, instead of the three lambda_ keys.",
        examples=[[30, 60, 80, 100]],
    )
    mixture_lambda: Annotated[
        tuple[float, ...] | None,
        Numbers(LAMBDA, 2, 40),
        Tag("Lambda at each of these pressures", hint="One lambda for each of these pressures."),
    ] = Field(default=None, description="Lambda at each of mixture_kpa.", examples=[[0.95, 1.0, 1.0, 0.88]])

    def conflicts(self) -> Iterator[Conflict]:
        """Check the octane numbers against one another and the mixture's two forms."""
        yield from self._contradicting_octane()
        if (self.mixture_kpa is None) != (self.mixture_lambda is None):
            given, lacking = (
                ("mixture_lambda", "mixture_kpa")
                if self.mixture_kpa is None
                else ("mixture_kpa", "mixture_lambda")
            )
            yield Conflict(
                lacking, phrase("must be given beside ", Key(given)), "one lambda for each pressure"
            )
        if self.mixture_kpa is None or self.mixture_lambda is None:
            return
        if len(self.mixture_kpa) != len(self.mixture_lambda):
            yield Conflict(
                "mixture_lambda",
                f"must hold one lambda for each of the {len(self.mixture_kpa)} pressures",
                f"it holds {len(self.mixture_lambda)}",
            )
        for name in ("lambda_full", "lambda_cruise", "lambda_idle"):
            if getattr(self, name) is not None:
                yield Conflict(
                    name,
                    phrase("must not stand beside ", Key("mixture_lambda")),
                    "state the mixture in one of the two ways",
                )

    def _contradicting_octane(self) -> Iterator[Conflict]:
        if self.ron is None and self.mon is None and self.aki is None:
            yield Conflict(
                "ron", phrase("must be given, or ", Key("mon"), " or ", Key("aki")), "read it at the pump"
            )
        if self.ron is not None and self.mon is not None and self.ron < self.mon:
            yield Conflict(
                "ron",
                phrase("must not be below ", Key("mon"), f" ({self.mon:g})"),
                "perhaps they are swapped",
            )
        elif self.aki is not None and self.ron is not None and self.mon is not None:
            middle = (self.ron + self.mon) / 2
            if abs(self.aki - middle) > 0.6:
                yield Conflict(
                    "aki",
                    phrase(
                        "must be half the sum of ",
                        Key("ron"),
                        " and ",
                        Key("mon"),
                        f" ({middle:g}), within 0.6",
                    ),
                    "keep the ones that are known",
                )
        elif self.aki is not None and self.ron is not None and self.ron < self.aki:
            yield Conflict(
                "ron",
                phrase("must not be below ", Key("aki"), f" ({self.aki:g})"),
                "perhaps they are swapped",
            )
        elif self.aki is not None and self.mon is not None and self.mon > self.aki:
            yield Conflict(
                "mon",
                phrase("must not be above ", Key("aki"), f" ({self.aki:g})"),
                "perhaps they are swapped",
            )
