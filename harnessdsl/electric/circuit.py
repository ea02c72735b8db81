"""A circuit (elements between nodes) and a network (a circuit whose switches are set).

A circuit does not change from condition to condition, so that the work of ordering it is done
once; a network says which contacts are closed and which laws differ from the circuit's own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from harnessdsl.electric.elements import CoilFigures, Element, Law, Resistance


class CircuitError(ValueError):
    """A circuit that cannot be: names what is wrong with it."""


class Circuit:
    """Elements between named nodes, and the node that voltages are told against.

    Raises CircuitError for an id used twice, an unknown reference or an impossible figure.
    """

    def __init__(self, elements: Iterable[Element], reference: str, nodes: Iterable[str] = (),
                 variable: Iterable[str] = (), positive_earth: bool = False) -> None:
        self.elements: tuple[Element, ...] = tuple(elements)
        self.reference = reference
        self.positive_earth = positive_earth
        self.plans: dict[object, object] = {}
        """The solver's plans for this circuit, made when first needed."""
        names: dict[str, int] = {reference: 0}
        for node in nodes:
            names.setdefault(node, len(names))
        self.element_index: dict[str, int] = {}
        for index, element in enumerate(self.elements):
            names.setdefault(element.a, len(names))
            names.setdefault(element.b, len(names))
            if self.element_index.setdefault(element.id, index) != index:
                raise CircuitError(f"two elements are called '{element.id}'")
            if isinstance(element.law, Resistance) and not element.law.ohm >= 0:
                raise CircuitError(f"'{element.id}' has a resistance of {element.law.ohm} ohm")
        self.node_index: Mapping[str, int] = names
        """Every node by its number; the reference is number 0."""
        self.nodes: tuple[str, ...] = tuple(names)
        for element in self.elements:
            for term in element.gate or ():
                at = self.element_index.get(term.coil)
                if at is None or self.elements[at].coil is None:
                    raise CircuitError(f"contact '{element.id}' waits for '{term.coil}', "
                                       "which is no coil of this circuit")
        chosen = frozenset(variable)
        self.variable: frozenset[int] = frozenset(
            index for index, element in enumerate(self.elements)
            if element.gate is not None or element.id in chosen)
        """Numbers of the elements whose resistance may differ from network to network."""

    @cached_property
    def coils(self) -> tuple[int, ...]:
        """Numbers of the elements that are relay coils."""
        return tuple(i for i, e in enumerate(self.elements) if e.coil is not None)

    def coil_figures(self, index: int) -> CoilFigures:
        figures = self.elements[index].coil
        assert figures is not None
        return figures

    def with_changes(self, laws: Mapping[str, Law], added: Iterable[Element] = (),
                     gates: Mapping[str, bool] | None = None) -> Circuit:
        """Return a circuit with other laws by element id, more elements, and contacts that no
        longer move: welded (True) or never closing (False)."""
        from dataclasses import replace

        from harnessdsl.electric.elements import OPEN

        stuck = gates or {}
        elements = []
        for element in self.elements:
            if element.id in laws:
                element = replace(element, law=laws[element.id])
            if element.id in stuck:
                element = replace(element, gate=None) if stuck[element.id] else replace(
                    element, gate=None, law=OPEN)
            elements.append(element)
        ids = [self.elements[i].id for i in sorted(self.variable)]
        return Circuit([*elements, *added], self.reference, self.nodes,
                       ids, self.positive_earth)


@dataclass(frozen=True, slots=True)
class Start:
    """What the past left behind: relays that are pulled in, thermal switches that are hot, fuses
    that are open. Everything by element id, thermal switches by part name."""

    energised: frozenset[str] = frozenset()
    hot: Mapping[str, bool] = field(default_factory=dict)
    opened: Mapping[str, str] = field(default_factory=dict)
    """Protection that has opened -> why, in words."""


REST = Start()


@dataclass(frozen=True, slots=True)
class Network:
    """A circuit in one condition."""

    circuit: Circuit
    closed: Mapping[str, bool] = field(default_factory=dict)
    """Contacts by id: whether the switch positions let them close. Missing means closed; coils
    that a contact waits for are looked after by the solver."""
    laws: Mapping[str, Law] = field(default_factory=dict)
    """Elements whose law differs in this condition."""
    name: str = ""
    ambient_c: float = 20.0
    hot: Mapping[str, bool] = field(default_factory=dict)
    """How each thermal switch stands, kept for the next condition."""
    hysteresis: tuple[str, ...] = ()
    """Thermal switches between their two temperatures: they stand as the past left them."""
    opened: Mapping[str, str] = field(default_factory=dict)
    """Protection that is open from the start -> why."""
    assumptions: tuple[str, ...] = ()

    @property
    def off_indexes(self) -> list[int]:
        """Numbers of the contacts that the switch positions keep open."""
        index = self.circuit.element_index
        return [index[name] for name, closed in self.closed.items() if not closed]

    def law(self, index: int) -> Law:
        element = self.circuit.elements[index]
        return self.laws.get(element.id, element.law)
