"""The planar squat derived from its picture, in symbols.

Independent on purpose: this module imports nothing of squatlab and
nothing of squatlab imports it, so that each checks the other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import sympy as sp


def _positive(names: str) -> tuple[sp.Symbol, ...]:
    return sp.symbols(names, positive=True)


@dataclass(frozen=True)
class PlanarSquat:
    """Derive balance and joint moments of a squat seen from the side.

    Angles in radians: shank lean ``s``, thigh elevation ``a``, trunk
    lean ``tau``. Masses are of both legs together. The ankle stands at
    ``x_ankle`` ahead of mid-foot. Every property is a SymPy expression.
    """

    g: sp.Symbol = sp.Symbol("g", positive=True)
    s: sp.Symbol = sp.Symbol("s", real=True)
    a: sp.Symbol = sp.Symbol("a", real=True)
    tau: sp.Symbol = sp.Symbol("tau", real=True)
    x_ankle: sp.Symbol = sp.Symbol("x_A", real=True)
    x_feet: sp.Symbol = sp.Symbol("x_F", real=True)
    x_target: sp.Symbol = sp.Symbol("x_0", real=True)
    lengths: tuple[sp.Symbol, ...] = field(default=_positive("L_S L_T"))
    masses: tuple[sp.Symbol, ...] = field(default=_positive("m_F m_S m_T m_H m_B"))
    centres: tuple[sp.Symbol, ...] = field(default=_positive("c_S c_T d_H"))
    bar_spot: tuple[sp.Symbol, ...] = field(default=_positive("d_B b_B"))

    @property
    def joints(self) -> dict[str, sp.Matrix]:
        """Return ankle, knee and hip as (x, y) columns, m."""
        shank, thigh = self.lengths
        ankle = sp.Matrix([self.x_ankle, 0])
        knee = ankle + shank * sp.Matrix([sp.sin(self.s), sp.cos(self.s)])
        hip = knee + thigh * sp.Matrix([-sp.cos(self.a), sp.sin(self.a)])
        return {"ankle": ankle, "knee": knee, "hip": hip}

    @property
    def bodies(self) -> dict[str, tuple[sp.Symbol, sp.Matrix]]:
        """Return mass and centre of shanks, thighs, HAT and bar."""
        joints = self.joints
        _, m_shank, m_thigh, m_hat, m_bar = self.masses
        c_shank, c_thigh, hat = self.centres
        along, behind = self.bar_spot
        up_trunk = sp.Matrix([sp.sin(self.tau), sp.cos(self.tau)])
        back = sp.Matrix([-sp.cos(self.tau), sp.sin(self.tau)])
        return {
            "shank": (m_shank, joints["knee"] + c_shank * (joints["ankle"] - joints["knee"])),
            "thigh": (m_thigh, joints["hip"] + c_thigh * (joints["knee"] - joints["hip"])),
            "hat": (m_hat, joints["hip"] + hat * up_trunk),
            "bar": (m_bar, joints["hip"] + along * up_trunk + behind * back),
        }

    @property
    def balance(self) -> sp.Equality:
        """Return the balance condition: mass times x sums to M x₀."""
        feet = self.masses[0]
        total = feet + sum(mass for mass, _ in self.bodies.values())
        moment = feet * self.x_feet + sum(m * centre[0] for m, centre in self.bodies.values())
        return sp.Eq(moment, total * self.x_target)

    @property
    def coefficients(self) -> tuple[sp.Expr, sp.Expr, sp.Expr]:
        """Return A, B, C of A sin τ + B cos τ = C."""
        moved = sp.expand(self.balance.lhs - self.balance.rhs)
        a, b = (moved.coeff(function(self.tau)) for function in (sp.sin, sp.cos))
        rest = moved - a * sp.sin(self.tau) - b * sp.cos(self.tau)
        return sp.factor(a), sp.factor(b), sp.collect(sp.expand(-rest), self.masses)

    @property
    def lean(self) -> sp.Expr:
        """Return the balancing lean τ."""
        a, b, c = self.coefficients
        return sp.asin(c / sp.sqrt(a**2 + b**2)) - sp.atan2(b, a)

    @property
    def potential_energy(self) -> sp.Expr:
        """Return the weight of every body times its height."""
        return self.g * sum(mass * centre[1] for mass, centre in self.bodies.values())

    @property
    def moments(self) -> dict[str, sp.Expr]:
        """Return static joint moments of both legs, extension positive.

        By virtual work: the work of the joints on a small change of one
        segment's angle equals the gain of potential energy. The trunk's
        angle meets the hip alone, the thigh's hip and knee, the shank's
        knee and ankle.
        """
        work = {
            angle: sp.diff(self.potential_energy, angle) for angle in (self.tau, self.a, self.s)
        }
        hip = -work[self.tau]
        knee = work[self.a] - hip
        ankle = -work[self.s] - knee
        return {"hip": hip, "knee": knee, "ankle": ankle}

    @property
    def hip_plus_knee(self) -> sp.Expr:
        """Return hip plus knee moment, simplified: no trunk, no bar place."""
        moments = self.moments
        return sp.factor(sp.simplify(moments["hip"] + moments["knee"]))


class Formulas:
    """Show expressions as typeset formulas, each with its name.

    A page that typesets nothing shows them as SymPy writes them in a line.
    """

    def __init__(self, named: Mapping[str, sp.Expr]) -> None:
        self.named = dict(named)

    def __repr__(self) -> str:
        width = max(map(len, self.named)) + 1
        return "\n".join(f"{name + ':':{width}} {expr}" for name, expr in self.named.items())

    def _repr_markdown_(self) -> str:
        return "\n\n".join(f"{name}: {_in_terms(expr)}" for name, expr in self.named.items())


def _in_terms(expr: sp.Expr) -> str:
    """Return an expression in LaTeX, each term by itself: a long sum may go on in another line."""
    first, *others = map(sp.latex, expr.as_ordered_terms())
    # Nothing before a sign would make it that of its term, and set it close.
    signed = ("{} " + (term if term.startswith("-") else f"+ {term}") for term in others)
    return " ".join(f"${term}$" for term in (first, *signed))
