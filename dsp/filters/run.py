"""Run a bank over stems: exact, block by block, with state.

Each block of samples is one matrix product. Its output is the sum of three products: a fixed
matrix times its input, one times the previous block (the memory of the FIR part), and one
times the state s of the sections at its start. The next s is A^block s plus a matrix times the
input. That last recursion runs over blocks, and is itself done in blocks of blocks. The result
equals the plain recursion to rounding, at about a tenth of its cost.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dsp.circuit.reduction import Floats
from dsp.errors import InputError
from dsp.filters.bank import Bank

SHORTEST_BLOCK = 32
AT_ONCE = 1 << 14
"""Samples per product, a multiple of any block; their data fits the processor's cache."""
SCAN = 16
"""Blocks per group in the recursion over blocks."""


@dataclass(frozen=True)
class BankState:
    """State of a running bank.

    Attributes
    ----------
    sections : ndarray, shape (n_sections, 2)
    history : ndarray, shape (n_coils, block)
        The preceding samples, newest last.
    """

    sections: Floats
    history: Floats


class Runner:
    """Runs one bank over stems."""

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
        into = moved[::-1].transpose(1, 0, 2, 3).reshape(n_coils, block, 2 * n_sections)
        # One product gives all three: a row's outputs, its share of the state, and what its samples
        # add to the next row.
        self._parts = np.cumsum([block, 2 * n_sections])
        every = np.concatenate([_toeplitz(impulse), into, _hankel(remembered)], axis=2)
        self._product = every.reshape(n_coils * block, -1)
        self._free = powers[:block, :, 0, :].transpose(1, 2, 0).reshape(2 * n_sections, block)
        self._powers = powers
        self._scan = Scan(powers[block])

    def initial_state(self) -> BankState:
        """Return the state of a bank before any input."""
        return BankState(np.zeros(self.bank.poles.shape), np.zeros((len(self.bank.taps), self.block)))

    def run(self, stems: Floats, state: BankState) -> tuple[Floats, BankState]:
        """Filter the next samples of the stems, any number of them.

        Parameters
        ----------
        stems : ndarray, shape (n_coils, n_samples), volt
        state : State
            From `initial_state` or the previous call.

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
        for start in range(0, whole, AT_ONCE):
            part = slice(start, min(start + AT_ONCE, whole))
            output[part], state = self._blocks(stems[:, part], state)
        if whole < stems.shape[1]:
            output[whole:], state = self._rest(stems[:, whole:], state)
        return output, state

    def _blocks(self, stems: Floats, state: BankState) -> tuple[Floats, BankState]:
        n_coils, block = len(stems), self.block
        n_blocks = stems.shape[1] // block
        rows = stems.reshape(n_coils, n_blocks, block).transpose(1, 0, 2).reshape(n_blocks, -1)
        output, entered, behind = np.split(rows @ self._product, self._parts, axis=1)
        sections = entered.reshape(n_blocks, -1, 2)
        starts, end = self._scan.run(sections, state.sections)
        output = output + starts.reshape(n_blocks, -1) @ self._free
        output[0] += (state.history.reshape(-1) @ self._product)[self._parts[1] :]
        output[1:] += behind[:-1]
        return output.reshape(-1), BankState(end, stems[:, -block:].copy())

    def _rest(self, stems: Floats, state: BankState) -> tuple[Floats, BankState]:
        """Filter a last part shorter than a block."""
        n, n_coils = stems.shape[1], len(stems)
        padded = np.zeros((n_coils, self.block))
        padded[:, :n] = stems
        late = np.zeros_like(padded)  # what enters the states depends on the time left to the end
        late[:, self.block - n :] = stems
        output = (padded.reshape(-1) @ self._product)[:n]
        output = output + (state.history.reshape(-1) @ self._product)[self._parts[1] :][:n]
        output = output + state.sections.reshape(-1) @ self._free[:, :n]
        entered = (late.reshape(-1) @ self._product)[self._parts[0] : self._parts[1]]
        moved = np.einsum("sij,sj->si", self._powers[n], state.sections)
        history = np.concatenate([state.history[:, n:], stems], axis=1)
        return output, BankState(moved + entered.reshape(-1, 2), history)


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


class Scan:
    """The recursion s' = step s + entered, taken in blocks of blocks.

    Parameters
    ----------
    step : ndarray, shape (n_sections, 2, 2)
        What one block does to the state.
    """

    def __init__(self, step: Floats) -> None:
        self._step = step
        powers = np.empty((SCAN + 1, *step.shape))
        powers[0] = np.eye(2)
        for i in range(SCAN):
            powers[i + 1] = step @ powers[i]
        # Within a group: states[i] = step^i start + sum over j < i of step^(i-1-j) entered[j].
        lag = np.arange(SCAN + 1)[:, None] - 1 - np.arange(SCAN)[None, :]
        kernel = np.where((lag >= 0)[:, :, None, None, None], powers[np.maximum(lag, 0)], 0.0)
        n_sections = len(step)
        self._local = kernel.transpose(2, 1, 4, 0, 3).reshape(n_sections, 2 * SCAN, 2 * SCAN + 2)
        self._free = powers[:SCAN].transpose(1, 3, 0, 2).reshape(n_sections, 2, 2 * SCAN)
        self._last = powers[SCAN]
        self._outer: Scan | None = None

    def run(self, entered: Floats, state: Floats) -> tuple[Floats, Floats]:
        """States at the start of every block, and after the last.

        Parameters
        ----------
        entered : ndarray, shape (n_blocks, n_sections, 2)
            What each block's input adds by its end.
        state : ndarray, shape (n_sections, 2)
            At the start of the first.
        """
        n_blocks, n_sections = entered.shape[:2]
        if not n_sections:  # a bank without modes, as of a shorted jack
            return entered, state
        whole = n_blocks - n_blocks % SCAN
        starts = np.empty((n_blocks, n_sections, 2))
        if whole:
            if self._outer is None:
                self._outer = Scan(self._last)
            groups = entered[:whole].reshape(-1, SCAN, n_sections, 2).transpose(2, 0, 1, 3)
            local = groups.reshape(n_sections, -1, 2 * SCAN) @ self._local
            outer, state = self._outer.run(local[:, :, 2 * SCAN :].transpose(1, 0, 2), state)
            inner = local[:, :, : 2 * SCAN] + outer.transpose(1, 0, 2) @ self._free
            shaped = inner.reshape(n_sections, -1, SCAN, 2).transpose(1, 2, 0, 3)
            starts[:whole] = shaped.reshape(whole, n_sections, 2)
        for i in range(whole, n_blocks):
            starts[i] = state
            state = (self._step @ state[:, :, None])[:, :, 0] + entered[i]
        return starts, state
