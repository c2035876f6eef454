"""Reference values of what is learnt in a session, and of verdicts over weeks."""

import itertools
import math

import numpy as np
from scipy import special, stats

from reference_case import case, rng


def learning():
    """What is learnt on the way, each by another way: all values at once, ranks, a whole chain of states."""
    for _ in range(40):
        first, new, longer = (float(rng.uniform(*ends)) for ends in ((0.5, 30), (0.2, 200), (0, 1.5)))
        # One time known: its log is the level, and the scale of a new one is wider by the root of two.
        body = stats.t(4, loc=math.log(first) + longer, scale=0.25 * math.sqrt(2))
        pause = stats.lomax(13, loc=math.log(first + 7), scale=3.2)
        share, log = 0.28 / (0.28 + 13.7), math.log(new)
        mixed = {name: (1 - share) * getattr(body, of)(log) + share * getattr(pause, of)(log)
                 for name, of in (("density", "pdf"), ("above", "sf"))}
        case("decline_times", {"first": first, "new": new, "longer": longer}, 1e-9, **mixed)
    for _ in range(40):
        # Each onset and form by itself, all tries gone through for it, where the program goes through
        # all of them try by try.
        missed, met, n = float(rng.uniform(0.5, 5)), float(rng.uniform(1, 10)), int(rng.integers(3, 22))
        at = np.cumsum(rng.uniform(2, 12, n))
        meets = rng.uniform(size=n) < rng.uniform(0.2, 0.9)
        grown = {0: lambda age: 0, 1: lambda age: 1, 2: lambda age: 2.2, 3: lambda age: min(age / 60, 2)}
        shares = {0: 0.12, 1: 0.10 + 0.08, 2: 0.13 + 0.06, 3: 0.10 + 0.07 + 0.06}
        usual, after, masses = [], [], []
        tries = np.array([missed, met])
        def odds(k, upto):
            # The likelihood ratios of the tries after onset k up to `upto`, by way, and of silence.
            by_way = {way: shares[way] * masses[k] for way in shares}
            silent = 0.28 * masses[k]
            for j in range(k + 1, upto):
                silent *= 1e-3 if meets[j] else 1
                for way in (1, 2, 3):
                    of = after[k] / (1 - after[k]) * math.exp(grown[way](at[j] - at[k]))
                    worse = of / (1 + of)
                    ratio = (1 - worse) / (1 - usual[j]) if meets[j] else worse / usual[j]
                    by_way[way] *= min(max(ratio, 1 / 20), 20)
            return by_way, max(silent, 1e-30)
        for j in range(n):
            usual.append(min(max(tries[0] / tries.sum(), 0.03), 0.7))
            total = sum(sum(by_way.values()) + silent for by_way, silent in (odds(k, j) for k in range(j)))
            part = 900 / (900 + total)
            tries = tries * (1 - 1 / 60 if tries.sum() > 30 else 1)
            tries = tries + part * np.array([not meets[j], meets[j]])
            after.append(min(max(tries[0] / tries.sum(), 0.03), 0.7))
            masses.append(at[j] - (at[j - 1] if j else 0))
        now = at[-1] + float(rng.uniform(0, 9))
        found = [odds(k, n) for k in range(n)]
        own = {1: 0.10 / 0.18, 2: 0.13 / 0.19, 3: 0.10 / 0.23}
        case("decline_misses", {"missed": missed, "met": met, "at": at.tolist(),
                                "meets": meets.astype(float).tolist(), "now": now}, 1e-9,
             evidence=sum(sum(by_way.values()) + silent for by_way, silent in found) + now - at[-1],
             in_misses=sum(own[way] * by_way[way] for by_way, _ in found for way in own)
             + 0.33 * (now - at[-1]))
    for _ in range(40):
        expected, n = float(rng.uniform(30, 900)), int(rng.integers(0, 12))
        x = expected * np.exp(rng.normal(0, 0.5, n))
        prior = (0.35 / 0.7) ** 2
        mean = (prior * math.log(expected) + np.log(x).sum()) / (prior + n)
        time = stats.lognorm(0.35 * math.sqrt(1 + 1 / (prior + n)), scale=math.exp(mean))
        start, end = np.sort(time.ppf(rng.uniform(0.01, 0.99, 2)))
        case("good_time", {"expected": expected, "x": x.tolist(), "from": start, "to": end}, 1e-7,
             median=time.median(), chance=1 - time.sf(end) / time.sf(start))


def verdicts():
    """Verdicts over weeks: whole covariance matrices in place of whitened sums; every arrangement in turn."""
    def marginal(y, x, cov):
        # Of normal values with this covariance up to a scale, the constant and the scale integrated out
        # over their right-Haar prior (as a restricted likelihood, Harville 1974, Biometrika 61:383).
        inverse = np.linalg.inv(cov)
        info = x.T @ inverse @ x
        left = inverse - inverse @ x @ np.linalg.inv(info) @ x.T @ inverse
        dets = np.linalg.slogdet(cov)[1] + np.linalg.slogdet(info)[1]
        return -dets / 2 - (len(y) - x.shape[1]) / 2 * math.log(y @ left @ y)

    for _ in range(40):
        n = int(rng.integers(5, 30))
        times, weights = np.arange(n, dtype=float), rng.uniform(0.3, 3, n)
        beside = np.ones((n, 1))
        of = times
        if rng.uniform() < 0.4 and n > 7:
            of = (times >= rng.integers(2, n - 2)).astype(float)
            beside = np.column_stack([beside, times])
        y, sizes = rng.normal(0, 1, n) + rng.normal(0, 0.2) * of, [0.2, 0.7]
        logs = {True: [], False: []}
        for strength in [0, 0.15, 0.3, 0.45]:
            alike = strength ** np.abs(np.subtract.outer(times, times)) if strength else np.eye(n)
            cov = alike / np.sqrt(np.outer(weights, weights))
            logs[False].append(marginal(y, beside, cov))
            # A normal effect in units of the scatter adds to the covariance.
            logs[True] += [marginal(y, beside, cov + s * s * np.outer(of, of)) for s in sizes]
        mean = {k: special.logsumexp(v) - math.log(len(v)) for k, v in logs.items()}
        case("anytime", {"y": y.tolist(), "weights": weights.tolist(), "of": of.tolist(),
                         "beside": beside.T.tolist(), "sizes": sizes}, 1e-6,
             log_evidence=mean[True] - mean[False])
    for _ in range(40):
        # A share whose older tries weigh less: the weights written out, and scipy's beta distribution.
        met = [int(x) for x in rng.uniform(size=rng.integers(1, 80)) < rng.uniform(0.1, 0.95)]
        fade, goal = float(rng.uniform(0.8, 0.99)), float(rng.uniform(0.3, 0.9))
        weight = fade ** np.arange(len(met))[::-1]
        beta = stats.beta(0.5 + (weight * met).sum(), 0.5 + (weight * (1 - np.array(met))).sum())
        case("faded", {"met": met, "fade": fade, "goal": goal}, 2e-9, at_least=beta.sf(goal),
             point=beta.mean(), ci=[beta.ppf(0.05), beta.ppf(0.95)])
    for _ in range(20):
        tries = [int(t) for t in rng.integers(3, 60, rng.integers(1, 15))]
        met = [int(rng.integers(0, t + 1)) for t in tries]
        gains, level = [0, 2, 3, 5, 8], np.arange(1, 99)
        # All levels and gains in one long chain.
        chain = np.zeros((5, 98, 5, 98))
        for g, gain in enumerate(gains):
            for i in range(98):
                to = min(i + gain, 97)
                if g:
                    chain[g, i, g, to], chain[g, i, 0, to] = 0.98, 0.02
                else:
                    chain[g, i, 0, to], chain[g, i, 1:, to] = 0.99, 0.01 / 4
        state = np.repeat([0.5, 0.2, 0.1, 0.1, 0.1], 98) / 98
        for number, (k, n) in enumerate(zip(met, tries)):
            if number:
                state = state @ chain.reshape(490, 490)
            p = level / 100
            state = state * np.tile(stats.betabinom.pmf(k, n, p * 49, (1 - p) * 49), 5)
            state = state / state.sum()
        case("gain", {"met": met, "tries": tries}, 1e-8, none=state[:98].sum(),
             points=(state.reshape(5, 98).sum(1) * gains).sum(),
             level=(state.reshape(5, 98).sum(0) * level).sum() / 100)
    for _ in range(30):
        a, b = (np.round(rng.normal(0, 1, rng.integers(1, 7)), int(rng.integers(0, 3))) for _ in "ab")
        ranks = stats.rankdata(np.concatenate([a, b]))
        off = [abs(ranks[list(c)].sum() - len(b) * ranks.mean())
               for c in itertools.combinations(range(len(ranks)), len(b))]
        here = abs(ranks[len(a):].sum() - len(b) * ranks.mean())
        case("rank_sum", {"a": a.tolist(), "b": b.tolist()}, 1e-9,
             p=np.mean(np.array(off) >= here - 1e-9))
        x = rng.normal(0, 1, rng.integers(6, 30))
        first, last = sorted(int(v) for v in rng.integers(1, len(x), 2))
        at = int(rng.integers(first, last + 1))
        differences = np.array([x[k:].mean() - x[:k].mean() for k in range(first, last + 1)])
        case("start_by_lot", {"x": x.tolist(), "first": first, "last": last, "at": at}, 1e-9,
             difference=differences[at - first],
             p=np.mean(np.abs(differences) >= abs(differences[at - first]) - 1e-9))
