"""Running a bank over stems: exact, block by block, with state.

A block of samples at a time is one matrix product. With the state s of the sections at its
start, a block's output is a fixed matrix times its input, plus one times the block before
(what the FIR part still remembers), plus one times s; and the next s is A^block s plus a
matrix times the input. Only that last line is a recursion, over blocks instead of samples,
and it is done the same way again, blocks of blocks. The result is that of the plain
recursion to rounding, at about a tenth of its cost.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dsp.circuit.reduction import Floats
from dsp.errors import InputError
from dsp.filters.bank import Bank

SHORTEST_BLOCK = 32
SCAN = 32
"""Blocks that are taken together when the recursion over blocks is blocked again."""


@dataclass(frozen=True)
class State:
    """What a running bank remembers.

    Attributes
    ----------
    sections : ndarray, shape (n_sections, 2)
    history : ndarray, shape (n_coils, block)
        The samples before, newest last.
    """

    sections: Floats
    history: Floats


class Runner:
    """The matrices of one bank, ready to run.

    Parameters
    ----------
    bank : Bank
    """

    def __init__(self, bank: Bank) -> None:
        self.bank = bank
        n_coils, taps = bank.taps.shape
        n_sections = len(bank.poles)
        self.block = block = max(SHORTEST_BLOCK, 1 << (taps - 1).bit_length())
        step = np.zeros((n_sections, 2, 2))
        step[:, 0, 0], step[:, 0, 1], step[:, 1, 0] = -bank.poles[:, 0], 1.0, -bank.poles[:, 1]
        powers = np.empty((block + 1, n_sections, 2, 2))
        powers[0] = np.eye(2)
        for i in range(block):
            powers[i + 1] = step @ powers[i]
        b0, b1 = bank.numerators[:, :, 0], bank.numerators[:, :, 1]
        enter = np.stack([b1 - bank.poles[:, 0] * b0, -bank.poles[:, 1] * b0], axis=-1)
        moved = np.einsum("nsij,ksj->nksi", powers[:block], enter)
        impulse = np.zeros((n_coils, block))
        impulse[:, 0] = b0.sum(axis=1)
        impulse[:, 1:] = moved[: block - 1, :, :, 0].sum(axis=2).T
        impulse[:, :taps] += bank.taps
        remembered = np.zeros((n_coils, block))
        remembered[:, : taps - 1] = bank.taps[:, 1:]
        self.direct = _toeplitz(impulse)
        self.before = _hankel(remembered)
        self.free = powers[:block, :, 0, :].transpose(1, 2, 0).reshape(2 * n_sections, block)
        self.into = moved[::-1].transpose(1, 0, 2, 3).reshape(n_coils, block, 2 * n_sections)
        self.powers = powers

    def rest(self) -> State:
        """The state of a bank that has heard nothing yet."""
        return State(np.zeros(self.bank.poles.shape), np.zeros((len(self.bank.taps), self.block)))

    def run(self, stems: Floats, state: State) -> tuple[Floats, State]:
        """Filter a stretch of stems of any length.

        Parameters
        ----------
        stems : ndarray, shape (n_coils, n_samples), volt
        state : State
            From `rest` or from the stretch before.

        Returns
        -------
        output : ndarray, shape (n_samples,), volt
        state : State

        Raises
        ------
        InputError
            If the stems are not one row per coil of the bank.
        """
        if stems.ndim != 2 or len(stems) != len(self.bank.taps):
            raise InputError("stems", f"shape {stems.shape}", f"({len(self.bank.taps)}, n_samples)")
        whole = stems.shape[1] - stems.shape[1] % self.block
        output = np.empty(stems.shape[1])
        if whole:
            output[:whole], state = self._blocks(stems[:, :whole], state)
        if whole < stems.shape[1]:
            output[whole:], state = self._rest(stems[:, whole:], state)
        return output, state

    def _blocks(self, stems: Floats, state: State) -> tuple[Floats, State]:
        block = self.block
        n_blocks = stems.shape[1] // block
        entered = np.zeros((n_blocks, 2 * len(self.bank.poles)))
        output = np.zeros((n_blocks, block))
        for k, stem in enumerate(stems):
            rows = np.ascontiguousarray(stem).reshape(n_blocks, block)
            output += rows @ self.direct[k]
            output[0] += state.history[k] @ self.before[k]
            output[1:] += rows[:-1] @ self.before[k]
            entered += rows @ self.into[k]
        starts, end = _scan(self.powers[block], entered.reshape(n_blocks, -1, 2), state.sections)
        output += starts.reshape(n_blocks, -1) @ self.free
        return output.ravel(), State(end, stems[:, -block:].copy())

    def _rest(self, stems: Floats, state: State) -> tuple[Floats, State]:
        """A last stretch shorter than a block."""
        n = stems.shape[1]
        output = state.sections.ravel() @ self.free[:, :n]
        entered = np.zeros(2 * len(self.bank.poles))
        for k, stem in enumerate(stems):
            output = output + stem @ self.direct[k, :n, :n] + state.history[k] @ self.before[k, :, :n]
            entered += stem @ self.into[k, self.block - n :]
        moved = np.einsum("sij,sj->si", self.powers[n], state.sections)
        history = np.concatenate([state.history[:, n:], stems], axis=1)
        return output, State(moved + entered.reshape(-1, 2), history)


def _toeplitz(impulse: Floats) -> Floats:
    """Matrices (n_coils, block, block) by which a row of inputs becomes its outputs."""
    block = impulse.shape[1]
    lag = np.arange(block)[None, :] - np.arange(block)[:, None]
    return np.ascontiguousarray(np.where(lag >= 0, impulse[:, np.maximum(lag, 0)], 0.0))


def _hankel(remembered: Floats) -> Floats:
    """Matrices by which the row before still reaches a row; `remembered` starts at lag 1."""
    block = remembered.shape[1]
    lag = np.arange(block)[None, :] + block - np.arange(block)[:, None] - 1
    return np.ascontiguousarray(np.where(lag < block, remembered[:, np.minimum(lag, block - 1)], 0.0))


def _scan(step: Floats, entered: Floats, state: Floats) -> tuple[Floats, Floats]:
    """States at the start of every block, and after the last.

    Parameters
    ----------
    step : ndarray, shape (n_sections, 2, 2)
        What one block does to the state.
    entered : ndarray, shape (n_blocks, n_sections, 2)
        What each block's input adds by its end.
    state : ndarray, shape (n_sections, 2)
        At the start of the first.
    """
    n_blocks = len(entered)
    if not entered.size:  # a bank without modes, as of a shorted jack, has nothing to remember
        return entered, state
    if n_blocks <= SCAN:
        starts = np.empty_like(entered)
        for i in range(n_blocks):
            starts[i] = state
            state = (step @ state[:, :, None])[:, :, 0] + entered[i]
        return starts, state
    whole = n_blocks - n_blocks % SCAN
    powers = np.empty((SCAN + 1, *step.shape))
    powers[0] = np.eye(2)
    for i in range(SCAN):
        powers[i + 1] = step @ powers[i]
    groups = entered[:whole].reshape(-1, SCAN, *entered.shape[1:])
    # Within a group: starts[i] = step^i start + sum over j < i of step^(i-1-j) entered[j].
    lag = np.arange(SCAN + 1)[:, None] - 1 - np.arange(SCAN)[None, :]
    kernel = np.where((lag >= 0)[:, :, None, None, None], powers[np.maximum(lag, 0)], 0.0)
    local = _apply(kernel, groups)
    outer, state = _scan(powers[SCAN], local[:, SCAN], state)
    inner = np.einsum("nsij,gsj->gnsi", powers[:SCAN], outer, optimize=True)
    starts = (local[:, :SCAN] + inner).reshape(whole, *entered.shape[1:])
    if whole == n_blocks:
        return starts, state
    last, state = _scan(step, entered[whole:], state)
    return np.concatenate([starts, last]), state


def _apply(kernel: Floats, groups: Floats) -> Floats:
    """kernel (N, M, s, 2, 2) on groups (G, M, s, 2) -> (G, N, s, 2), as products per section."""
    n_out, n_in, n_sections = kernel.shape[:3]
    matrix = kernel.transpose(2, 1, 4, 0, 3).reshape(n_sections, 2 * n_in, 2 * n_out)
    rows = groups.transpose(2, 0, 1, 3).reshape(n_sections, -1, 2 * n_in)
    return (rows @ matrix).reshape(n_sections, -1, n_out, 2).transpose(1, 2, 0, 3)
