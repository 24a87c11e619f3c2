"""The K-weighting of Recommendation ITU-R BS.1770 and its energy, in matrix form.

Literature: ITU-R BS.1770-4 (2015), annex 1.

The K-weighting filters are the recommendation's two second-order sections. They run over blocks:
one matrix product gives each block's output from its own input, another adds what the filter
still remembers of the blocks before. The result is that of the sample-by-sample recursion, at
the speed of a matrix product; a filtering library would cost more in its import alone.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from genex.audio.sound import Doubles, Samples

HOPS_A_SECOND = 10
HOPS_A_CHUNK = 40
_BLOCK, _BLOCKS_A_GROUP = 32, 10  # about: what divides a hop
_SHELF = (1681.974450955533, 3.999843853973347, 0.7071752369554196)  # Hz, dB, Q
_HIGH_PASS = (38.13547087602444, 0.5003270373238773)  # Hz, Q


def filtered_energies(planes: Samples, before: Samples, rate_hz: int) -> Doubles:
    """K-weighted energy of each whole hop of ``planes``; ``before`` sets the filters' memory.

    Shape (n_hops,).
    """
    hop = rate_hz // HOPS_A_SECOND
    filters = _block_filters(rate_hz)
    block, group = len(filters.own), filters.group
    energies = np.zeros(planes.shape[1] // hop)
    warm_groups = before.shape[1] // (block * group)
    rows = HOPS_A_CHUNK * hop // block
    for channel in (0, 1):
        lead_in = before[channel, before.shape[1] - warm_groups * group * block :].reshape(-1, block)
        body = planes[channel].reshape(-1, block)
        taken = np.concatenate((lead_in @ filters.absorbed, body @ filters.absorbed))
        states = _states_before(taken, filters)[warm_groups * group :].astype(np.float32)
        for first in range(0, len(body), rows):
            out = body[first : first + rows] @ filters.own
            out += states[first : first + rows] @ filters.remembered
            hops = out.reshape(-1, hop)
            at = first * block // hop
            energies[at : at + len(hops)] += np.einsum("ij,ij->i", hops, hops)
    return energies / hop


def _states_before(absorbed: Samples, filters: _BlockFilters) -> Doubles:
    """Filter state before each block: the sum of what was absorbed, stepped on to there.

    Shape (n_blocks, 4). Before each group of blocks by doubling: after k rounds each state holds the
    last 2^k groups; the filters forget within a second, so a few rounds hold all that can be told in
    double precision. Within a group by one product.
    """
    taken = absorbed.astype(np.float64).reshape(-1, 4 * filters.group)
    states = np.zeros((len(taken), 4))
    states[1:] = taken[:-1] @ filters.gathered
    reach, power = 1, filters.step
    while reach < len(states) and np.abs(power).max() > 1e-14:
        moved = states[:-reach] @ power
        states[reach:] += moved
        reach, power = 2 * reach, power @ power
    within = taken @ filters.among
    within += states @ filters.onward
    return within.reshape(-1, 4)


def _divisor(number: int, near: int) -> int:
    """The divisor of a number that is nearest to another."""
    return min((d for d in range(1, number + 1) if number % d == 0), key=lambda d: abs(d - near))


class _BlockFilters(NamedTuple):
    """The K-weighting filters over blocks of row vectors, and over groups of blocks.

    group       blocks a group
    own         (block, block)  output from the block's own input
    remembered  (4, block)      output from the state before the block
    absorbed    (block, 4)      state after the block from its own input
    step        (4, 4)          state after a group from the state before it
    gathered    (4 * group, 4)  state after a group from what its blocks absorbed
    onward      (4, 4 * group)  states before each block of a group from the state before it
    among       (4 * group, 4 * group)  and from what its blocks absorbed
    """

    group: int
    own: Samples
    remembered: Samples
    absorbed: Samples
    step: Doubles
    gathered: Doubles
    onward: Doubles
    among: Doubles


@lru_cache(maxsize=4)
def _block_filters(rate_hz: int) -> _BlockFilters:
    hop = rate_hz // HOPS_A_SECOND
    block = _divisor(hop, _BLOCK)
    group = _divisor(hop // block, _BLOCKS_A_GROUP)
    b, a = k_weighting(rate_hz)
    order = len(a) - 1
    # Transposed direct form II: state' = state A + x B, y = state C + x D, with row vectors.
    advance = np.zeros((order, order))
    advance[0, :] = -a[1:]
    advance[1:, :-1] = np.eye(order - 1)
    entry = b[1:] - a[1:] * b[0]
    exits = np.eye(order)[:, 0]
    powers = [np.eye(order)]
    for _ in range(block):
        powers.append(powers[-1] @ advance)
    response = np.array([b[0], *(entry @ powers[i] @ exits for i in range(block - 1))])
    own = np.zeros((block, block))
    for row in range(block):
        own[row, row:] = response[: block - row]
    remembered = np.stack([powers[i] @ exits for i in range(block)], axis=1)
    absorbed = np.stack([entry @ powers[block - 1 - i] for i in range(block)])
    # States as large as what is heard of them: else large numbers would cancel in single precision.
    orthonormal, scale = np.linalg.qr(remembered.T)
    remembered, absorbed = orthonormal.T, absorbed @ scale.T
    onward = np.linalg.solve(scale.T, powers[block] @ scale.T)
    steps = [np.eye(order)]
    for _ in range(group):
        steps.append(steps[-1] @ onward)
    among = np.zeros((order * group, order * group))
    for row in range(group):
        for column in range(row + 1, group):
            place = (
                slice(order * row, order * row + order),
                slice(order * column, order * column + order),
            )
            among[place] = steps[column - 1 - row]
    return _BlockFilters(
        group=group,
        own=own.astype(np.float32),
        remembered=remembered.astype(np.float32),
        absorbed=absorbed.astype(np.float32),
        step=steps[group],
        gathered=np.concatenate([steps[group - 1 - i] for i in range(group)]),
        onward=np.concatenate(steps[:group], axis=1),
        among=among,
    )


def k_weighting(rate_hz: int) -> tuple[Doubles, Doubles]:
    """Numerator and denominator of both K-weighting sections in one, shape (5,), for any sample rate.

    The recommendation prints the coefficients for 48 kHz; those for other rates follow from the
    analogue prototypes by the bilinear transform, which gives the printed ones at 48 kHz.
    """
    hertz, gain_db, q = _SHELF
    k = math.tan(math.pi * hertz / rate_hz)
    high, band = 10 ** (gain_db / 20), 10 ** (gain_db / 20 * 0.4996667741545416)
    norm = 1 + k / q + k * k
    shelf_b = (
        np.array([high + band * k / q + k * k, 2 * (k * k - high), high - band * k / q + k * k]) / norm
    )
    shelf_a = np.array([norm, 2 * (k * k - 1), 1 - k / q + k * k]) / norm
    hertz, q = _HIGH_PASS
    k = math.tan(math.pi * hertz / rate_hz)
    norm = 1 + k / q + k * k
    pass_a = np.array([norm, 2 * (k * k - 1), 1 - k / q + k * k]) / norm
    return np.convolve(shelf_b, [1.0, -2.0, 1.0]), np.convolve(shelf_a, pass_a)
