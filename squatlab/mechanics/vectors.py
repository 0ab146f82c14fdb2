"""Vectors whose components stay apart until someone asks for points.

A million postures keep x, y and z as three contiguous arrays, and a
component that does not vary stays a plain number: far less to compute
than one (…, 3) array, which is made only at the door, by ``stack``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Vector:
    """Hold x forward, y up, z right; each any shape that broadcasts.

    Units are whatever the components carry, metres for points
    (axes: [wu1995]).
    """

    x: ArrayLike
    y: ArrayLike
    z: ArrayLike

    def __add__(self, other: Vector) -> Vector:
        return Vector(self.x + other.x, self.y + other.y, self.z + other.z)

    def __sub__(self, other: Vector) -> Vector:
        return Vector(self.x - other.x, self.y - other.y, self.z - other.z)

    def __mul__(self, factor: ArrayLike) -> Vector:
        return Vector(self.x * factor, self.y * factor, self.z * factor)

    def dot(self, other: Vector) -> ArrayLike:
        """Return the inner product, in the product of both units."""
        return self.x * other.x + self.y * other.y + self.z * other.z

    def cross(self, other: Vector) -> Vector:
        """Return the right-handed vector product."""
        return Vector(
            self.y * other.z - self.z * other.y,
            self.z * other.x - self.x * other.z,
            self.x * other.y - self.y * other.x,
        )

    def length(self) -> ArrayLike:
        """Return the Euclidean length."""
        return np.sqrt(self.dot(self))

    def mirrored(self) -> Vector:
        """Return the mirror image in the sagittal plane (z changes sign)."""
        return Vector(self.x, self.y, -self.z)

    def toward(self, other: Vector, fraction: ArrayLike) -> Vector:
        """Return the point at a fraction of the way to another point."""
        return self + (other - self) * fraction

    def stack(self) -> NDArray[np.float64]:
        """Return the components as one array of shape (…, 3)."""
        points = np.empty((*np.broadcast(self.x, self.y, self.z).shape, 3))
        points[..., 0], points[..., 1], points[..., 2] = self.x, self.y, self.z
        return points


def apex_along(base: ArrayLike, from_start: ArrayLike, from_end: ArrayLike) -> ArrayLike:
    """Return how far along the base of a triangle its apex lies.

    By the law of cosines, p = (d² + a² − b²) / 2d, for a base d whose
    ends are a and b away from the apex; in the unit of the three lengths.
    """
    return (base**2 + from_start**2 - from_end**2) / (2 * base)


def angle_between(a: Vector, b: Vector) -> ArrayLike:
    """Return the angle between two vectors in radians, 0 to π.

    From |a × b| and a · b together, by atan2: exact for nearly parallel
    vectors too, where an arc cosine of a · b loses half its digits.
    """
    return np.arctan2(a.cross(b).length(), a.dot(b))
