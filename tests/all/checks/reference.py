"""Reference values for seeded random inputs, as JSON on standard output.

Every value comes from scipy, statsmodels, lifelines, pymannkendall or numpy, or from a plain
definition written out here by another way than in the program. Usage: reference.py SEED...
"""

import json
import math
import sys
import warnings
from fractions import Fraction

import numpy as np
import pymannkendall
import statsmodels.api as sm
from lifelines import KaplanMeierFitter
from lifelines.statistics import logrank_test
from lifelines.utils import restricted_mean_survival_time
from scipy import optimize, stats
from statsmodels.duration.survfunc import SurvfuncRight
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

# Nothing is written beside the tests.
sys.dont_write_bytecode = True
from reference_case import begin, case, cases, plain, rng
from reference_weeks import learning, verdicts

warnings.filterwarnings("ignore")


def rates():
    for _ in range(40):
        k, t = int(rng.poisson(rng.choice([0.5, 5, 50, 900]))), float(rng.uniform(0.2, 90))
        low = 0.0 if k == 0 else stats.chi2.ppf(0.025, 2 * k) / 2
        case("garwood", {"count": k, "exposure": t}, 1e-8,
             ci=[low / t, stats.chi2.ppf(0.975, 2 * k + 2) / 2 / t],
             below=stats.chi2.ppf(0.95, 2 * k + 2) / 2 / t)
    for _ in range(60):
        mean = float(rng.uniform(0.05, 40))
        k = int(rng.poisson(mean * rng.choice([0.3, 1, 2])))
        x = np.arange(0, 400)
        p = stats.poisson.pmf(x, mean)
        here = stats.poisson.pmf(k, mean)
        case("count_test", {"observed": k, "mean": mean}, 1e-9,
             less=stats.poisson.cdf(k, mean), greater=stats.poisson.sf(k - 1, mean),
             mid=stats.poisson.cdf(k, mean) - here / 2,
             minlike=min(1.0, p[p <= here * (1 + 1e-7)].sum()),
             log_less=stats.poisson.logcdf(k, mean), log_greater=stats.poisson.logsf(k - 1, mean))
    for _ in range(60):
        x = [int(rng.poisson(m)) for m in rng.uniform(0, 30, 2)]
        t = [float(u) for u in rng.uniform(0.5, 60, 2)]
        if sum(x) == 0:
            continue
        p0 = t[0] / sum(t)
        test = stats.binomtest(x[0], sum(x), p0)
        ends = test.proportion_ci(0.95, "exact")
        # Logs, as a ratio may have any size.
        odds = [plain(np.log(e) - np.log1p(-e) + np.log(t[1] / t[0])) for e in ends]
        case("compare", {"x": x, "t": t}, 1e-7,
             log_ci=odds, minlike=test.pvalue,
             less=stats.binomtest(x[0], sum(x), p0, "less").pvalue,
             greater=stats.binomtest(x[0], sum(x), p0, "greater").pvalue)
    for _ in range(60):
        shape, exposure = float(rng.uniform(0.3, 300)), float(rng.uniform(0.5, 60))
        window, k = float(rng.uniform(0.2, 20)), int(rng.integers(0, 60))
        success = exposure / (exposure + window)
        case("prior", {"shape": shape, "exposure": exposure, "window": window, "k": k}, 1e-9,
             at_most=stats.nbinom.cdf(k, shape, success),
             at_least=stats.nbinom.sf(k - 1, shape, success),
             nothing=stats.lomax.sf(window, shape, scale=exposure),
             ci=[v / exposure for v in stats.gamma.ppf([0.025, 0.975], shape)])


def shares():
    sizes = [1, 2, 5, 20, 20, 100, 1000, 30_000, 200_000]
    for _ in range(120):
        n = int(rng.choice(sizes))
        k = int(rng.choice([0, n, rng.binomial(n, rng.uniform())]))
        p0 = float(rng.choice([0.5, 0.8, rng.uniform(0.01, 0.99), min(0.99, (k + 1) / (n + 2))]))
        test = stats.binomtest(k, n, p0)
        # Beyond that, log gammas of this size have no more digits to give.
        case("share", {"k": k, "n": n, "p0": p0}, 1e-9 if n < 100_000 else 1e-8,
             wilson=list(proportion_confint(k, n, method="wilson")),
             exact=list(proportion_confint(k, n, method="beta")),
             minlike=test.pvalue, less=stats.binom.cdf(k, n, p0),
             greater=stats.binom.sf(k - 1, n, p0))
    for _ in range(40):
        n = [int(v) for v in rng.integers(1, 80, 2)]
        k = [int(rng.integers(0, v + 1)) for v in n]
        ends = confint_proportions_2indep(k[0], n[0], k[1], n[1], method="newcomb", compare="diff")
        case("difference", {"k": k, "n": n}, 1e-9, ci=[float(e) for e in ends])
    for _ in range(40):
        table = rng.integers(0, 25, (2, 2))
        if table.sum() == 0:
            continue
        case("fisher", {"table": table.tolist()}, 1e-9, p=stats.fisher_exact(table).pvalue)
    for _ in range(20):
        n, r, p = int(rng.integers(1, 60)), int(rng.integers(1, 6)), float(rng.uniform())
        step = np.zeros((r + 1, r + 1))
        step[:r, 0] = 1 - p
        step[range(r), range(1, r + 1)] = p
        step[r, r] = 1
        case("run_chance", {"n": n, "run": r, "p": p}, 1e-9,
             p=np.linalg.matrix_power(step, n)[0, r])


def normal_run_length(k, h, offset, nodes=200):
    """Nystroem on Gauss-Legendre nodes, with the atom at zero (Goel & Wu 1971)."""
    x, w = np.polynomial.legendre.leggauss(nodes)
    x, w = (x + 1) * h / 2, w * h / 2
    points = np.append(0.0, x)
    kernel = np.column_stack([stats.norm.cdf(k - points, offset),
                              w * stats.norm.pdf(x[None, :] - points[:, None] + k, offset)])
    return np.linalg.solve(np.eye(nodes + 1) - kernel, np.ones(nodes + 1))[0]


def average_run_length(lam, width, offset, nodes=200):
    """Two-sided average, Nystroem (Crowder 1987)."""
    c = width * math.sqrt(lam / (2 - lam))
    x, w = np.polynomial.legendre.leggauss(nodes)
    x, w = x * c, w * c
    arrive = lambda z: w / lam * stats.norm.pdf((x - (1 - lam) * z) / lam, offset)
    lengths = np.linalg.solve(np.eye(nodes) - np.array([arrive(z) for z in x]), np.ones(nodes))
    return 1 + arrive(0.0) @ lengths


def grid_run_length(best, most, steps, rising, chances):
    """Exact: the chain of a sum on the grid of the fraction nearest to the best reference, built
    state by state; outcome x has chance chances[x]. Gives the reference and the run length."""
    near = Fraction(best).limit_denominator(most)
    a, b = near.numerator, near.denominator
    states = steps * b
    move = np.zeros((states, states))
    for i in range(states):
        for x, p in enumerate(chances):
            to = max(0, i + (b * x - a if rising else a - b * x))
            if to < states:
                move[i, to] += p
    return a / b, np.linalg.solve(np.eye(states) - move, np.ones(states))[0]


def sums():
    for _ in range(10):
        k, h, off = float(rng.uniform(0.2, 1)), float(rng.uniform(1, 5)), float(rng.uniform(0, 1.5))
        length = normal_run_length(k, h, off)
        case("normal_sum", {"k": k, "h": h, "offset": off}, 3e-4 * length, length=length)
    for _ in range(10):
        lam, off = float(rng.uniform(0.05, 0.6)), float(rng.uniform(0, 1.5))
        width = float(rng.uniform(1.5, 3))
        length = average_run_length(lam, width, off)
        case("average", {"lambda": lam, "width": width, "offset": off}, 3e-4 * length,
             length=length)
    for _ in range(10):
        good = float(rng.uniform(1.2, 8))
        bad = good * float(rng.choice([0.5, 2.0]))
        best = (good - bad) / math.log(good / bad)
        true = float(rng.choice([good, bad]))
        steps = int(rng.integers(2, 6))
        k, length = grid_run_length(best, 20, steps, bad > good,
                                    stats.poisson.pmf(np.arange(200), true))
        case("count_sum", {"good": good, "bad": bad, "h": steps, "mean": true}, 1e-7 * length,
             reference=k, length=length)
    for _ in range(10):
        good = float(rng.uniform(0.05, 0.4))
        bad = good + float(rng.uniform(0.1, 0.5))
        up = math.log((1 - good) / (1 - bad))
        best = up / math.log(bad * (1 - good) / (good * (1 - bad)))
        true, steps = float(rng.choice([good, bad])), int(rng.integers(1, 5))
        k, length = grid_run_length(best, 20, steps, True, [1 - true, true])
        case("miss_sum", {"good": good, "bad": bad, "h": steps, "miss": true}, 1e-7 * length,
             reference=k, length=length)


def trends():
    for _ in range(60):
        n = int(rng.integers(2, 40))
        x = rng.normal(0, 1, n) + rng.choice([0, 0.1]) * np.arange(n)
        if rng.uniform() < 0.5:
            x = np.round(x)
        x = [float(v) for v in x]
        m = pymannkendall.original_test(x)
        exact = None
        if n <= 10 and len(set(x)) == n:
            exact = stats.kendalltau(np.arange(n), x, method="exact").pvalue
        t = np.sort(rng.integers(0, 60, n)).astype(float)
        fit = None
        if len(set(t)) > 1:
            s = stats.theilslopes(x, t, 0.95)
            fit = [float(s.slope), float(s.intercept), float(s.low_slope), float(s.high_slope)]
        case("trend", {"x": x, "t": t.tolist()}, 1e-9, s=m.s, var=m.var_s, z=m.z, p=m.p,
             exact=exact, slope=m.slope, fit=fit)
    for _ in range(30):
        n = int(rng.integers(3, 30))
        day = np.sort(rng.choice(60, n, replace=False)).astype(float)
        freq = 10 ** (0.5 + 0.01 * day + rng.normal(0, 0.1, n))
        r = stats.linregress(day, np.log10(freq))
        half = stats.t.isf(0.025, n - 2) * r.stderr
        off = np.log10(freq) - r.intercept - r.slope * day
        sen = stats.theilslopes(np.log10(freq), day)
        case("over_time", {"day": day.tolist(), "rate": freq.tolist()}, 1e-7,
             week=10 ** (7 * r.slope), start=10 ** r.intercept, spread=10 ** (off.max() - off.min()),
             ci=[10 ** (7 * (r.slope - half)), 10 ** (7 * (r.slope + half))],
             robust=10 ** (7 * sen.slope))


def smooth():
    """Local Poisson regressions by statsmodels, the variance by the sandwich written out."""
    for _ in range(20):
        n = int(rng.integers(3, 40))
        day = np.sort(rng.choice(n + 3, n, replace=False)).astype(float)
        minutes = rng.uniform(0.5, 8, n)
        count = rng.poisson(minutes * np.exp(rng.normal(1, 0.6, n)))
        stretch = np.concatenate([[0], np.cumsum(np.diff(day) > 4)])
        log, var, own = np.full((3, n), np.nan)
        for i in range(n):
            x = (day - day[i]) / 14
            w = np.where(stretch == stretch[i], np.clip(1 - np.abs(x) ** 3, 0, 1) ** 3, 0)
            near = w > 0
            if near.sum() < 3 or (count[near] > 0).sum() < 2:
                continue
            basis = np.column_stack([np.ones(n), x])[near]
            model = sm.GLM(count[near], basis, sm.families.Poisson(), exposure=minutes[near], freq_weights=w[near])
            fit = model.fit(tol=1e-14, maxiter=200)
            bread = fit.cov_params() / fit.scale
            meat = (basis * (w[near] ** 2 * fit.fittedvalues)[:, None]).T @ basis
            log[i], var[i] = fit.params[0], (bread @ meat @ bread)[0, 0]
            own[i] = minutes[i] * math.exp(log[i]) * bread[0, 0]
        known = ~np.isnan(log)
        mean = minutes * np.exp(log)
        free = (1 - own[known]).sum()
        extra = max(1.0, (((count - mean) ** 2 / mean)[known]).sum() / free) if free >= 1 else 1.0
        half = stats.norm.isf(0.025) * np.sqrt(extra * var)
        # Days are shown where one beside them in the same stretch is known too.
        beside = np.zeros(n, bool)
        pair = known[1:] & known[:-1] & (stretch[1:] == stretch[:-1])
        beside[1:] |= pair
        beside[:-1] |= pair
        ends = [[float(v[i]) for i in np.flatnonzero(beside)] for v in (day, log, log - half, log + half)]
        case("smooth", {"day": day.tolist(), "count": count.tolist(), "minutes": minutes.tolist()}, 1e-6,
             day=ends[0], log=ends[1], low=ends[2], high=ends[3])


def survival():
    def group(scale):
        n = int(rng.integers(3, 60))
        time, stop = rng.exponential(scale, n), rng.exponential(scale * 1.2, n)
        return np.ceil(np.minimum(time, stop) * 2) / 2, (time <= stop).astype(int)

    for _ in range(30):
        (t, e), (t2, e2) = group(8), group(float(rng.choice([8, 14])))
        if e.sum() == 0 or e2.sum() == 0:
            continue
        fit = KaplanMeierFitter().fit(t, e)
        other = SurvfuncRight(t, e)
        ci = fit.confidence_interval_.to_numpy()
        at = np.searchsorted(fit.survival_function_.index, other.surv_times)
        alive = other.surv_prob > 1e-12
        test = logrank_test(t, t2, e, e2)
        limit = float(t.max()) * 0.8
        case("survival", {"time": t.tolist(), "event": e.tolist(),
                          "time2": t2.tolist(), "event2": e2.tolist(), "limit": limit}, 1e-8,
             times=other.surv_times.tolist(), s=other.surv_prob.tolist(),
             se=[float(v) if a else None for v, a in zip(other.surv_prob_se, alive)],
             low=[float(ci[i, 0]) if a else None for i, a in zip(at, alive)],
             high=[float(ci[i, 1]) if a else None for i, a in zip(at, alive)],
             median=plain(fit.median_survival_time_), chi=test.test_statistic, p=test.p_value,
             rmst=restricted_mean_survival_time(fit, limit))


def agreement():
    for _ in range(40):
        size = int(rng.integers(2, 5))
        table = rng.integers(0, 12, (size, size)) + np.diag(rng.integers(0, 30, size))
        if table.sum() == 0 or (table.sum(0) * table.sum(1)).max() == table.sum() ** 2:
            continue
        k = cohens_kappa(table)
        case("kappa", {"table": table.tolist()}, 1e-9, kappa=k.kappa, se=k.std_kappa,
             se_null=k.std_kappa0, ci=[max(-1.0, k.kappa_low), min(1.0, k.kappa_upp)])
    for _ in range(40):
        # Brute force over assignments: the largest number of pairs, then the least distance.
        a, b = (np.sort(rng.uniform(0, 12, rng.integers(0, 9))) for _ in range(2))
        far = 1e6
        cost = np.abs(a[:, None] - b[None, :])
        cost = np.where(cost <= 1.0, cost, far)
        rows, columns = optimize.linear_sum_assignment(cost)
        good = cost[rows, columns] < far
        case("matching", {"a": a.tolist(), "b": b.tolist(), "tolerance": 1.0}, 1e-9,
             pairs=int(good.sum()), distance=float(cost[rows, columns][good].sum()))


def effects():
    for _ in range(40):
        a = np.round(rng.normal(0, 2, rng.integers(1, 15)))
        b = np.round(rng.normal(rng.choice([0, 2]), 2, rng.integers(1, 15)))
        m, n = len(a), len(b)
        u = stats.mannwhitneyu(b, a).statistic
        nap, h, z = u / (m * n), (m + n) / 2 - 1, stats.norm.isf(0.025)

        def misfit(x):
            var = x * (1 - x) * (1 + h * ((1 - x) / (2 - x) + x / (1 + x))) / (m * n)
            return (nap - x) ** 2 - z * z * var

        # Without spread at the very ends, 0 and 1 are roots of their own: stay inside.
        eps = 1e-9
        low = 0.0 if nap == 0 else optimize.brentq(misfit, eps, min(nap, 1 - eps), xtol=1e-13)
        high = 1.0 if nap == 1 else optimize.brentq(misfit, max(nap, eps), 1 - eps, xtol=1e-13)
        trend = pymannkendall.original_test(a.tolist()).s if m > 1 else 0
        case("effect", {"a": a.tolist(), "b": b.tolist()}, 1e-8, nap=nap, ci=[low, high],
             tau=2 * nap - 1, tau_u=(2 * u - m * n - trend) / (m * n))


def summaries():
    for _ in range(40):
        x = np.exp(rng.normal(0, 1, rng.integers(3, 30)))
        q, n = float(rng.uniform()), len(x)
        t = stats.t.isf(0.05 / n, n - 2)
        case("summary", {"x": x.tolist(), "q": q}, 1e-9,
             r6=np.quantile(x, q, method="weibull"), r7=np.quantile(x, q),
             r8=np.quantile(x, q, method="median_unbiased"),
             mad=stats.median_abs_deviation(x), gmean=stats.gmean(x), gsd=stats.gstd(x),
             mean=x.mean(), sd=x.std(ddof=1),
             critical=(n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t)))
    for i in range(60):
        a, b = rng.normal(0, 1, rng.integers(1, 15)), rng.normal(0.5, 1, rng.integers(1, 15))
        if i % 3 == 0:
            a, b = np.round(a), np.round(b)
        ties = len(set(np.concatenate([a, b]))) < len(a) + len(b)
        method = "asymptotic" if ties else "exact"
        p = {side: stats.mannwhitneyu(a, b, alternative=side, method=method).pvalue
             for side in ("greater", "less")}
        case("ranks", {"a": a.tolist(), "b": b.tolist()}, 1e-9,
             u=stats.mannwhitneyu(a, b).statistic, greater=plain(p["greater"]), less=plain(p["less"]))


for seed in sys.argv[1:]:
    begin(int(seed))
    for chapter in (rates, shares, sums, trends, survival, agreement, effects, summaries, learning,
                    smooth, verdicts):
        chapter()
json.dump(cases, sys.stdout, default=float)
