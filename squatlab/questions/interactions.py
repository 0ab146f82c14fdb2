"""What a question asks in the terms of QTI, the open standard of 1EdTech: element and scoring."""

from __future__ import annotations

from dataclasses import dataclass
from xml.sax.saxutils import escape

SET = """<setOutcomeValue identifier="SCORE">
<baseValue baseType="float">{score:.10g}</baseValue></setOutcomeValue>"""
ONE_OR_NOTHING = """<responseCondition><responseIf>{test}{one}</responseIf>
<responseElse>{nothing}</responseElse></responseCondition>"""
MATCHES = '<match><variable identifier="RESPONSE"/><correct identifier="RESPONSE"/></match>'
WITHIN = """<and><gte><variable identifier="RESPONSE"/>
<baseValue baseType="float">{least!r}</baseValue></gte><lte><variable identifier="RESPONSE"/>
<baseValue baseType="float">{most!r}</baseValue></lte></and>"""
NONE_NAMED = '<isNull><variable identifier="RESPONSE"/></isNull>'
MAPPED = """<responseCondition><responseIf>{test}{nothing}</responseIf><responseElse>
<setOutcomeValue identifier="SCORE"><mapResponse identifier="RESPONSE"/></setOutcomeValue>
</responseElse></responseCondition>"""
EXPLAINED = """<setOutcomeValue identifier="FEEDBACK">
<baseValue baseType="identifier">why</baseValue></setOutcomeValue></responseProcessing>
<modalFeedback outcomeIdentifier="FEEDBACK" identifier="why" showHide="show">
<p>{why}</p></modalFeedback>"""


@dataclass(frozen=True)
class OneOption:
    """Ask for one option; exactly ``right`` is worth a mark."""

    options: tuple[str, ...]
    right: str
    shuffle: bool = True
    cardinality = "single"
    base = "identifier"
    most = ' maxChoices="1"'
    element = "choiceInteraction"

    @property
    def names(self) -> dict[str, str]:
        """Return the name of each option in the package."""
        return {option: f"choice-{n}" for n, option in enumerate(self.options, 1)}

    @property
    def correct(self) -> tuple[str, ...]:
        """Return the values of the correct response."""
        return (self.names[self.right],)

    @property
    def mapped(self) -> dict[str, float]:
        """Return what each value is worth, {} where only the whole counts."""
        return {}

    def interaction(self, prompt: str) -> str:
        """Return the element that asks."""
        choices = "".join(
            f'<simpleChoice identifier="{name}">{escape(option)}</simpleChoice>'
            for option, name in self.names.items()
        )
        shuffle = str(self.shuffle).lower()
        return (
            f'<{self.element} responseIdentifier="RESPONSE" shuffle="{shuffle}"{self.most}>'
            f"<prompt>{escape(prompt)}</prompt>{choices}</{self.element}>"
        )

    def rules(self, why: str) -> str:
        """Return how it is scored, and what is shown after the answer."""
        scored = ONE_OR_NOTHING.format(
            test=MATCHES, one=SET.format(score=1), nothing=SET.format(score=0)
        )
        after = EXPLAINED.format(why=escape(why)) if why else "</responseProcessing>"
        return f"<responseProcessing>{scored}{after}"


@dataclass(frozen=True)
class OneOfSeveral(OneOption):
    """Ask for one option; each of ``accepted`` is worth a mark."""

    accepted: tuple[str, ...] = ()

    @property
    def mapped(self) -> dict[str, float]:
        """Return a mark for each accepted option."""
        return {self.names[option]: 1.0 for option in self.accepted}

    def rules(self, why: str) -> str:
        """Return how it is scored: by the mapping."""
        return _by_mapping(0.0)


@dataclass(frozen=True)
class WholeOrder(OneOption):
    """Ask for an order of all options; exactly ``order`` is worth a mark."""

    order: tuple[str, ...] = ()
    cardinality = "ordered"
    most = ""
    element = "orderInteraction"

    @property
    def correct(self) -> tuple[str, ...]:
        """Return the values in their right order."""
        return tuple(self.names[option] for option in self.order)


@dataclass(frozen=True)
class AllThatFit(OneOption):
    """Ask for every option that fits, none among them.

    Worth sensitivity + specificity − 1, not below 0: each option that is
    ``there`` and named adds its share of those there, each other one that
    is named takes its share of those not there. Where nothing is there,
    only to name nothing is worth a mark.
    """

    there: tuple[str, ...] = ()
    cardinality = "multiple"
    most = ' maxChoices="0"'

    @property
    def correct(self) -> tuple[str, ...]:
        """Return the values that fit."""
        return tuple(self.names[option] for option in self.there)

    @property
    def mapped(self) -> dict[str, float]:
        """Return the share that naming each option adds or takes away."""
        absent = len(self.options) - len(self.there)
        return {
            name: 1 / len(self.there) if option in self.there else -1 / absent
            for option, name in self.names.items()
        }

    def rules(self, why: str) -> str:
        """Return how it is scored: by the mapping, or for naming nothing."""
        return _by_mapping(0.0 if self.there else 1.0)


@dataclass(frozen=True)
class OneNumber:
    """Ask for a number in a ``unit``, right within a ``tolerance``."""

    right: float
    tolerance: float
    unit: str = ""
    cardinality = "single"
    base = "float"

    @property
    def correct(self) -> tuple[str, ...]:
        """Return the value of the correct response."""
        return (repr(float(self.right)),)

    @property
    def mapped(self) -> dict[str, float]:
        """Return {}: only the whole counts."""
        return {}

    def interaction(self, prompt: str) -> str:
        """Return the element that asks; the unit stands behind it."""
        unit = f" {escape(self.unit)}" if self.unit else ""
        return (
            f"<p>{escape(prompt)}</p><p><textEntryInteraction "
            f'responseIdentifier="RESPONSE" expectedLength="10"/>{unit}</p>'
        )

    def rules(self, why: str) -> str:
        """Return how it is scored: within the tolerance, its ends included."""
        scored = ONE_OR_NOTHING.format(
            test=WITHIN.format(least=self.right - self.tolerance, most=self.right + self.tolerance),
            one=SET.format(score=1),
            nothing=SET.format(score=0),
        )
        return f"<responseProcessing>{scored}</responseProcessing>"


def _by_mapping(nothing: float) -> str:
    """Return rules that add up what is named; naming nothing is worth ``nothing``."""
    scored = MAPPED.format(test=NONE_NAMED, nothing=SET.format(score=nothing))
    return f"<responseProcessing>{scored}</responseProcessing>"


Interaction = OneOption | OneNumber
