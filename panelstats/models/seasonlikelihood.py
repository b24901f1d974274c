"""The restricted likelihood of the season model with its exact gradient, all descriptors at once.

Model, one descriptor: score = lot + taster + session + taster:session + lot:taster + lot:taster:session +
lot:session:pot + error, lots fixed, the rest random. Rows (a lot in a session) are eliminated first, then sessions,
then what all sessions share: lots that recur, tasters, and lot:taster of the lots that recur. Work is linear in rows
and sessions; nothing of the size of lots is squared. Patterson & Thompson 1971, Biometrika 58:545.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.models.seasonrows import SeasonRows

# Order of the variances in every array of them.
SOURCES = ("taster", "session", "taster:session", "lot:taster", "lot:taster:session", "lot:session:pot", "residual")
TASTER, SESSION, TASTER_SESSION, LOT_TASTER, LOT_TASTER_SESSION, POT, RESIDUAL = range(len(SOURCES))


@dataclass(frozen=True, eq=False)
class _Blocks:
    """Matrices of each block: what its looks tell of the tasters' means of a row."""

    c: np.ndarray  # (B,) variance of a cell
    share: np.ndarray  # (B, P) pot variance over that of a pot's total
    denominator: np.ndarray  # (B, P)
    H: np.ndarray  # (B, T, T) before the cells are eliminated
    G: np.ndarray  # (B, T, T) (I + cH)^-1
    W: np.ndarray  # (B, T, T) information on the tasters' means
    w: np.ndarray  # (B, T) its row sums
    a: np.ndarray  # (B,) information on the lot
    logdet: np.ndarray  # (B,)


@dataclass(frozen=True, eq=False)
class _Shared:
    """What all sessions share, eliminated: lots that recur (fixed), tasters, lot:taster of lots that recur."""

    C: np.ndarray  # (D, g, g) covariance of the estimates
    estimate: np.ndarray  # (D, g)
    information: np.ndarray  # (D, g - K, g - K) on the random ones, lots eliminated
    score: np.ndarray  # (D, g - K) Z'Py
    logdet: np.ndarray  # (D,)
    quad: np.ndarray  # (D,)


@dataclass(frozen=True, eq=False)
class SeasonState:
    """The likelihood at given variances, with what means and contrasts are made of.

    Attributes
    ----------
    value : ndarray, shape (D,)
        -2 log restricted likelihood, constants included.
    gradient : ndarray, shape (D, 7)
    inv_a : ndarray, shape (R,)
        Own variance of a row's lot given all that sessions share; 0 for lots that recur.
    v : ndarray, shape (R, T)
        Weights of the tasters in it.
    Z : ndarray, shape (D, S, T, T)
        Covariance of session + taster:session given what all sessions share.
    reach : ndarray, shape (D, S, T, g)
        How the tasters' level in a session depends on what all sessions share.
    C : ndarray, shape (D, g, g)
    mean : ndarray, shape (R,)
        Estimate of the row's lot, less its centre.
    """

    value: np.ndarray
    gradient: np.ndarray
    inv_a: np.ndarray
    v: np.ndarray
    Z: np.ndarray
    reach: np.ndarray
    C: np.ndarray
    mean: np.ndarray


def season_state(rows: SeasonRows, theta: np.ndarray) -> SeasonState:
    """Evaluate the likelihood at variances of shape (D, 7), the residual above 0."""
    blocks, of = _blocks(rows, theta), rows.block
    share = blocks.share[of]
    n = rows.counts[of] if rows.pots else np.zeros((*rows.taster_sum.shape, 0))
    s2 = theta[rows.descriptor, RESIDUAL]
    h = (rows.taster_sum - np.einsum("rtp,rp->rt", n, share * rows.pot_sum)) / s2[:, None]
    q0 = (rows.squares - (share * rows.pot_sum**2).sum(axis=1)) / s2
    b = np.einsum("rtu,ru->rt", blocks.G[of], h)
    q = q0 - blocks.c[of] * (h * b).sum(axis=1)
    local, a = rows.place < 0, blocks.a[of]
    total = b.sum(axis=1)
    pulled = np.where(local[:, None], b - blocks.w[of] * (total / a)[:, None], b)
    q = q - np.where(local, total**2 / a, 0.0)
    logdet = blocks.logdet[of] + np.where(local, np.log(a), 0.0)
    info = np.where(local[:, None, None], (blocks.W - _outer(blocks.w) / blocks.a[:, None, None])[of], blocks.W[of])
    A, score = _by_session(rows, info), _by_session(rows, pulled)
    B, N, r = _shared_information(rows, blocks, A, b, score)
    Z, half = _session_prior(A, theta)
    ZB = Z @ B
    N = N - np.einsum("dstg,dsth->dgh", B, ZB, optimize=True)
    r = r - np.einsum("dstg,dst->dg", ZB, score)
    shared = _shared(rows, N, r, theta)
    d = rows.sizes[0]
    value = (rows.scores - rows.lots) * np.log(2 * np.pi) + np.bincount(rows.descriptor, logdet + q, d)
    value = value + half.sum(axis=1) - np.einsum("dst,dstu,dsu->d", score, Z, score) + shared.logdet - shared.quad
    left = score - np.einsum("dstg,dg->dst", B, shared.estimate)
    x = np.einsum("dstu,dsu->dst", Z, left)
    reach = _tasters_only(rows, B.shape) - ZB
    at = (rows.descriptor, rows.session)
    level = x[at] + shared.estimate[rows.descriptor][:, _taster_places(rows)]
    mean = np.where(local, (total - (blocks.w[of] * level).sum(axis=1)) / a, 0.0)
    mean = np.where(local, mean, shared.estimate[rows.descriptor, np.maximum(rows.place, 0)])
    gradient = np.zeros((d, len(SOURCES)))
    _global_gradient(rows, shared, gradient)
    _session_gradient(A, B, Z, left, shared.C, gradient)
    _row_gradient(rows, _Row(blocks, n, s2, h, q0, b, level, mean, Z, reach, shared), gradient)
    return SeasonState(
        value=value,
        gradient=gradient,
        inv_a=np.where(local, 1 / a, 0.0),
        v=np.where(local[:, None], blocks.w[of] / a[:, None], 0.0),
        Z=Z,
        reach=reach,
        C=shared.C,
        mean=mean,
    )


def _outer(x: np.ndarray) -> np.ndarray:
    return x[..., :, None] * x[..., None, :]


def _blocks(rows: SeasonRows, theta: np.ndarray) -> _Blocks:
    """Eliminate pots and cells of each block."""
    mine = theta[rows.block_descriptor]
    s2 = mine[:, RESIDUAL]
    c = mine[:, LOT_TASTER_SESSION] + np.where(rows.block_own, 0.0, mine[:, LOT_TASTER])
    looks = rows.counts.sum(axis=2)
    n = rows.counts if rows.pots else np.zeros((*looks.shape, 0))
    denominator = s2[:, None] + mine[:, POT, None] * n.sum(axis=1)
    share = mine[:, POT, None] / denominator
    eye = np.eye(looks.shape[1])
    H = (looks[:, :, None] * eye - (n * share[:, None, :]) @ np.swapaxes(n, 1, 2)) / s2[:, None, None]
    inner = eye + c[:, None, None] * H
    G = np.linalg.inv(inner)
    W = G @ H
    W = (W + np.swapaxes(W, 1, 2)) / 2
    logdet = np.linalg.slogdet(inner)[1] + np.log(denominator).sum(axis=1)
    logdet = logdet + (looks.sum(axis=1) - n.shape[2]) * np.log(s2)
    w = W.sum(axis=2)
    return _Blocks(c, share, denominator, H, G, W, w, w.sum(axis=1), logdet)


def _by_session(rows: SeasonRows, values: np.ndarray) -> np.ndarray:
    """Sum over the rows of each descriptor and session: (R, ...) -> (D, S, ...)."""
    d, s, _ = rows.sizes
    at = rows.descriptor * s + rows.session
    present, starts = np.unique(at, return_index=True)
    out = np.zeros((d * s, *values.shape[1:]))
    out[present] = np.add.reduceat(values, starts, axis=0)
    return out.reshape(d, s, *values.shape[1:])


def _taster_places(rows: SeasonRows) -> np.ndarray:
    """Where the tasters stand among what all sessions share."""
    return len(rows.recurring) + np.arange(rows.tasters)


def _own_places(rows: SeasonRows) -> np.ndarray:
    """Where lot:taster of each lot with a term of its own stands, shape (O, T)."""
    t = rows.tasters
    return len(rows.recurring) + t + np.arange(len(rows.own) * t).reshape(len(rows.own), t)


def _tasters_only(rows: SeasonRows, shape: tuple[int, ...]) -> np.ndarray:
    out = np.zeros(shape)
    out[..., np.arange(rows.tasters), _taster_places(rows)] = 1.0
    return out


def _shared_information(
    rows: SeasonRows, blocks: _Blocks, A: np.ndarray, b: np.ndarray, score: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Information of the scores on what all sessions share: with each session's level, by itself, and its score."""
    d, s, t = A.shape[:3]
    k, tasters, own = len(rows.recurring), _taster_places(rows), _own_places(rows)
    g = k + t + own.size
    met = np.flatnonzero(rows.place >= 0)
    at, place, of = rows.descriptor[met], rows.place[met], rows.block[met]
    B, N, r = np.zeros((d, s, t, g)), np.zeros((d, g, g)), np.zeros((d, g))
    B[at, rows.session[met], :, place] = blocks.w[of]
    B[..., tasters] = A
    N[:, :k, tasters] = B[..., :k].sum(axis=1).swapaxes(1, 2)
    N[:, tasters, :k] = N[:, :k, tasters].swapaxes(1, 2)
    lot_at = at * k + place
    N[:, np.arange(k), np.arange(k)] = np.bincount(lot_at, blocks.a[of], d * k).reshape(d, k)
    N[np.ix_(np.arange(d), tasters, tasters)] = A.sum(axis=1)
    r[:, :k] = np.bincount(lot_at, b[met].sum(axis=1), d * k).reshape(d, k)
    r[:, tasters] = score.sum(axis=1)
    for o, lot in enumerate(rows.own):
        mine = np.flatnonzero(place == lot)
        W = np.zeros((d, s, t, t))
        W[at[mine], rows.session[met[mine]]] = blocks.W[of[mine]]
        B[..., own[o]] = W
        whole = W.sum(axis=1)
        for other in (tasters, own[o]):
            N[np.ix_(np.arange(d), own[o], other)] = whole
            N[np.ix_(np.arange(d), other, own[o])] = whole
        N[:, lot, own[o]] = N[:, own[o], lot] = whole.sum(axis=2)
        np.add.at(r, (at[mine][:, None], own[o][None, :]), b[met[mine]])
    return B, N, r


def _session_prior(A: np.ndarray, theta: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Covariance of session + taster:session given the rest, and log det(I + AO)."""
    eye = np.eye(A.shape[2])
    prior = theta[:, SESSION, None, None] + theta[:, TASTER_SESSION, None, None] * eye
    inner = eye + A @ prior[:, None]
    Z = prior[:, None] @ np.linalg.inv(inner)
    return (Z + Z.swapaxes(2, 3)) / 2, np.linalg.slogdet(inner)[1]


def _shared(rows: SeasonRows, N: np.ndarray, r: np.ndarray, theta: np.ndarray) -> _Shared:
    """Eliminate lots that recur, then the random effects that all sessions share."""
    k, t, size = len(rows.recurring), rows.tasters, N.shape[1]
    absent = ~np.isfinite(rows.centre[:, rows.recurring])
    fixed = N[:, :k, :k] + absent[:, :, None] * np.eye(k)
    inverse = np.linalg.inv(fixed)
    cross = inverse @ N[:, :k, k:]  # (D, K, g - K)
    lots = np.einsum("dkl,dl->dk", inverse, r[:, :k])
    N_star = N[:, k:, k:] - N[:, k:, :k] @ cross
    r_star = r[:, k:] - np.einsum("dgk,dk->dg", N[:, k:, :k], lots)
    sd = np.sqrt(np.repeat(theta[:, [TASTER, LOT_TASTER]], [t, size - k - t], axis=1))
    inner = np.eye(size - k) + sd[:, :, None] * N_star * sd[:, None, :]
    C_rr = sd[:, :, None] * np.linalg.inv(inner) * sd[:, None, :]
    u = np.einsum("dgh,dh->dg", C_rr, r_star)
    C = np.empty_like(N)
    C[:, k:, k:], C[:, :k, k:] = C_rr, -cross @ C_rr
    C[:, k:, :k] = C[:, :k, k:].swapaxes(1, 2)
    C[:, :k, :k] = inverse + cross @ C_rr @ cross.swapaxes(1, 2)
    estimate = np.concatenate([lots - np.einsum("dkg,dg->dk", cross, u), u], axis=1)
    return _Shared(
        C=C,
        estimate=estimate,
        information=N_star - N_star @ C_rr @ N_star,
        score=r_star - np.einsum("dgh,dh->dg", N_star, u),
        logdet=np.linalg.slogdet(fixed)[1] + np.linalg.slogdet(inner)[1],
        quad=(r_star * u).sum(axis=1) + (r[:, :k] * lots).sum(axis=1),
    )


def _global_gradient(rows: SeasonRows, shared: _Shared, out: np.ndarray) -> None:
    """Of taster and of lot:taster where a lot has a term of its own."""
    change = np.einsum("dgg->dg", shared.information) - shared.score**2
    out[:, TASTER] += change[:, : rows.tasters].sum(axis=1)
    out[:, LOT_TASTER] += change[:, rows.tasters :].sum(axis=1)


def _session_gradient(
    A: np.ndarray, B: np.ndarray, Z: np.ndarray, left: np.ndarray, C: np.ndarray, out: np.ndarray
) -> None:
    """Of session and taster:session."""
    rest = np.eye(A.shape[2]) - A @ Z
    U = rest @ B
    P = A - A @ Z @ A - U @ C[:, None] @ U.swapaxes(2, 3)
    p = np.einsum("dstu,dsu->dst", rest, left)
    out[:, SESSION] += P.sum(axis=(1, 2, 3)) - (p.sum(axis=2) ** 2).sum(axis=1)
    out[:, TASTER_SESSION] += np.einsum("dstt->d", P) - (p**2).sum(axis=(1, 2))


@dataclass(frozen=True, eq=False)
class _Row:
    """What the derivatives of the rows are made of."""

    blocks: _Blocks
    n: np.ndarray
    s2: np.ndarray
    h: np.ndarray
    q0: np.ndarray
    b: np.ndarray
    level: np.ndarray
    mean: np.ndarray
    Z: np.ndarray
    reach: np.ndarray
    shared: _Shared


def _row_gradient(rows: SeasonRows, x: _Row, out: np.ndarray) -> None:
    """Of the variances within a row: lot:taster of lots without a term of their own, lot:taster:session, pot, residual.

    With m the tasters' means of a row and M their error, k the cells' predictions and R their error, the derivative by
    any of these variances is that of the row's own likelihood at m, plus the trace of M (or R) with the information's.
    """
    of, blocks, d = rows.block, x.blocks, rows.sizes[0]
    first, kind = rows.kinds
    m, M = _means(rows, x), _errors(rows, x)
    mine = of[first]
    W, G, H, c = blocks.W[mine], blocks.G[mine], blocks.H[mine], blocks.c[mine]
    by_cell = (_trace(W) - np.einsum("rtu,rut->r", M @ W, W))[kind]
    by_cell = by_cell - ((x.b - np.einsum("rtu,ru->rt", blocks.W[of], m)) ** 2).sum(axis=1)
    k = np.einsum("rtu,ru->rt", blocks.G[of], m) + blocks.c[of][:, None] * x.b
    R = G @ M @ G + c[:, None, None] * G
    out[:, LOT_TASTER_SESSION] += np.bincount(rows.descriptor, by_cell, d)
    out[:, LOT_TASTER] += np.bincount(rows.descriptor, np.where(rows.block_own[of], 0.0, by_cell), d)
    looks = rows.counts.sum(axis=(1, 2))[of]
    Hk = np.einsum("rtu,ru->rt", blocks.H[of], k)
    square = x.q0 - 2 * (k * x.h).sum(axis=1) + (k * Hk).sum(axis=1)
    by_error = (looks - x.n.shape[2] - square - np.einsum("rtu,rut->r", R, H)[kind]) / x.s2
    if rows.pots:
        denominator, share = blocks.denominator[of], blocks.share[of]
        n = x.n[first]
        spread = (rows.pot_sum - np.einsum("rt,rtp->rp", k, x.n)) ** 2
        spread = spread + np.einsum("rtp,rtp->rp", n, R @ n)[kind]
        by_share = -spread / x.s2[:, None]
        by_pot = (x.n.sum(axis=1) / denominator + by_share * x.s2[:, None] / denominator**2).sum(axis=1)
        out[:, POT] += np.bincount(rows.descriptor, by_pot, d)
        by_error = by_error + (1 / denominator - by_share * share / denominator).sum(axis=1)
    out[:, RESIDUAL] += np.bincount(rows.descriptor, by_error, d)


def _trace(x: np.ndarray) -> np.ndarray:
    return np.einsum("rtt->r", x)


def _means(rows: SeasonRows, x: _Row) -> np.ndarray:
    """The tasters' means of each row, (R, T)."""
    m, place, own = x.level + x.mean[:, None], rows.place, _own_places(rows)
    for o, lot in enumerate(rows.own):
        mine = np.flatnonzero(place == lot)
        m[mine] += x.shared.estimate[rows.descriptor[mine]][:, own[o]]
    return m


def _errors(rows: SeasonRows, x: _Row) -> np.ndarray:
    """Covariance of the errors of these means, for each kind of rows, (kind, T, T)."""
    first, _ = rows.kinds
    d, s, place, of = rows.descriptor[first], rows.session[first], rows.place[first], rows.block[first]
    C, own = x.shared.C, _own_places(rows)
    linked = x.reach @ C[:, None]  # (D, S, T, g)
    M = (x.Z + linked @ x.reach.swapaxes(2, 3))[d, s]
    local = np.flatnonzero(place < 0)
    a, w = x.blocks.a[of[local]], x.blocks.w[of[local]]
    turn = np.eye(rows.tasters) - (w / a[:, None])[:, None, :]
    M[local] = turn @ M[local] @ turn.swapaxes(1, 2) + (1 / a)[:, None, None]
    for lot in range(len(rows.recurring)):
        mine = np.flatnonzero(place == lot)
        places = [np.full(rows.tasters, lot), *own[rows.own == lot]]  # of the lot, and of lot:taster if it has a term
        for one in places:
            side = linked[d[mine], s[mine]][:, :, one]
            M[mine] += side + side.swapaxes(1, 2)
            for two in places:
                M[mine] += C[d[mine]][:, one[:, None], two[None, :]]
    return M
