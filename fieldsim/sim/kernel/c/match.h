/* One match after another: the clock, changes by hand, tries and rescues, and what is scored.
 *
 * A match is played from tables of what is drawn: what each try of each run would do, whatever else is driven. So every order of
 * the runs is played on the same drawn, and playing one costs some additions. What is played again and again is first
 * taken into a few small arrays, one match at a time (load_match). ``turn`` is the only place where it says how a match
 * goes.
 *
 * All orders at once (walk). The orders of all choices of runs form a tree: a node is a run driven after those above it,
 * and what has been scored up to there is the score of the order that ends there. Nodes are numbered as they are met (a
 * node, then all below it), so what lies below a node is the stretch from it to skip[node]. Each match walks through the
 * numbers once with a state for each depth; what a node scores more than the one above it is added where its stretch
 * begins and taken away where it ends, so a stretch in which nothing can be driven any more is jumped over. One running
 * sum at the end gives the total of every order.
 *
 * The records are those of match.py, match_search.py and match_policy.py, field for field; sets of runs or of targets
 * are bits.
 */
#ifndef FIELDSIM_MATCH_H
#define FIELDSIM_MATCH_H

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    double mean, sd, least;
} Change;

typedef struct {
    double limit;
    const Change *change, *rescue;
    double rescue_points, finish;
    const double *points;
    const int64_t *target, *needs, *needed, *finishes;
    int64_t runs, acts;
} Rules;

typedef struct {
    const double *seconds, *begins, *ends;
    const uint8_t *hit, *through, *home, *out;
    const double *change, *rescue;
    int64_t matches, tries;
} Drawn;

/* How a match stands. */
typedef struct {
    int64_t hit, through, done, home, last, attempt;
} Standing;

typedef struct {
    double clock, score;
} Told;

/* What is told of one run. */
typedef struct {
    double earned, lost, driving, acting, changing, rescuing, tries, success, cut, first;
} Ledger;

/* What is drawn of one match, in a form that is quick to play: R runs, J tries, A acts. */
typedef struct {
    void *memory;
    double *ready;   /* (R, R, J) seconds of the change from one run to another */
    double *fetch;   /* (R, J) seconds of the rescue after a try; -1 if there is nothing to fetch */
    double *seconds; /* (R, J) of the try */
    double *at;      /* (R, J, A) seconds at which each act that has its tool in place ends, */
    int64_t *what;   /* and its target */
    int64_t *scores; /* (R, J) how many those are */
    int64_t *through, *home; /* (R, J) the run's bit if it gets through; if it ends inside its finish */
    int64_t *worth;  /* (R,) the bits of the targets that score */
} OneMatch;

static double by_hand(const Change *times, double drawn) { return fmax(times->least, times->mean + times->sd * drawn); }

static int64_t bit(int64_t i) { return (int64_t)((uint64_t)1 << i); }

static int open_match(OneMatch *one, const Rules *rules, const Drawn *drawn)
{
    size_t r = (size_t)rules->runs, j = (size_t)drawn->tries, a = (size_t)rules->acts;
    size_t reals = r * r * j + 2 * r * j + r * j * a, wholes = r * j * a + 3 * r * j + r;
    one->memory = malloc(8 * (reals + wholes + 1));
    if (!one->memory)
        return -1;
    one->ready = (double *)one->memory;
    one->fetch = one->ready + r * r * j;
    one->seconds = one->fetch + r * j;
    one->at = one->seconds + r * j;
    one->what = (int64_t *)(one->at + r * j * a);
    one->scores = one->what + r * j * a;
    one->through = one->scores + r * j;
    one->home = one->through + r * j;
    one->worth = one->home + r * j;
    return 0;
}

/* Take what is drawn of match ``m`` into ``one``. */
static void load_match(const Rules *rules, const Drawn *drawn, int64_t m, OneMatch *one)
{
    int64_t runs = rules->runs, tries = drawn->tries, acts = rules->acts;
    for (int64_t run = 0; run < runs; run++) {
        one->worth[run] = 0;
        for (int64_t act = 0; act < acts; act++) {
            int64_t target = rules->target[run * acts + act];
            if (target >= 0 && rules->points[target] > 0.0)
                one->worth[run] |= bit(target);
        }
        for (int64_t number = 0; number < tries; number++) {
            int64_t at = run * tries + number, in = (m * runs + run) * tries + number;
            for (int64_t before = 0; before < runs; before++)
                one->ready[(before * runs + run) * tries + number] =
                    by_hand(&rules->change[before * runs + run], drawn->change[in]);
            one->fetch[at] = drawn->out[in] ? by_hand(rules->rescue, drawn->rescue[in]) : -1.0;
            one->seconds[at] = drawn->seconds[in];
            one->through[at] = drawn->through[in] ? bit(run) : 0;
            one->home[at] = drawn->home[in] ? bit(run) : 0;
            int64_t count = 0;
            for (int64_t act = 0; act < acts; act++)
                if (drawn->hit[in * acts + act]) {
                    one->at[at * acts + count] = drawn->ends[in * acts + act];
                    one->what[at * acts + count] = rules->target[run * acts + act];
                    count++;
                }
            one->scores[at] = count;
        }
    }
}

/* A run's turn in an order: left out if what it needs is not there; tried again as the rules say. What is told of it is
 * added to ``entry``, if there is one.
 *
 * Whoever knows only what things take on average starts nothing that could not start before the limit. An act counts if
 * it ends by the limit; so does a finish. A run that the limit cuts is not through, and nobody fetches the robot any
 * more. */
static void turn(const Rules *rules, const OneMatch *one, const Drawn *drawn, int64_t m, int64_t run, Standing *now,
                 Told *told, Ledger *entry)
{
    int64_t runs = rules->runs, tries = drawn->tries, acts = rules->acts;
    double limit = rules->limit, clock = told->clock;
    int64_t last = now->last, tried = now->attempt;
    for (int64_t number = 0; number < tries && (rules->needs[run] & ~now->through) == 0; number++) {
        int64_t at = run * tries + number;
        /* Another try is of use if something is left to score, or a run that needs it has not had its turn. */
        if (number > 0 && (one->worth[run] & ~now->hit) == 0 &&
            (rules->finish <= 0.0 || !rules->finishes[run] || (now->home & bit(run)) != 0) &&
            (rules->needed[run] & ~now->done) == 0)
            break;
        if (last >= 0) {
            double fetch = one->fetch[last * tries + tried];
            double expected = clock + rules->change[last * runs + run].mean;
            if (fetch >= 0.0)
                expected += rules->rescue->mean;
            if (expected >= limit) {
                if (entry)
                    entry->cut = 1.0;
                break;
            }
            if (fetch >= 0.0) {
                told->score += rules->rescue_points;
                if (entry) {
                    entry->rescuing += fmin(fetch, limit - clock);
                    entry->lost += rules->rescue_points;
                }
                clock = fmin(clock + fetch, limit);
            }
            double ready = one->ready[(last * runs + run) * tries + number];
            if (entry)
                entry->changing += fmin(ready, limit - clock);
            clock = fmin(clock + ready, limit);
        }
        last = run;
        tried = number;
        double left = limit - clock;
        if (left <= 0.0) {
            if (entry)
                entry->cut = 1.0;
            break;
        }
        for (int64_t hit = 0; hit < one->scores[at]; hit++) {
            int64_t target = one->what[at * acts + hit];
            if (one->at[at * acts + hit] <= left && (now->hit & bit(target)) == 0) {
                now->hit |= bit(target);
                told->score += rules->points[target];
                if (entry)
                    entry->earned += rules->points[target];
            }
        }
        double seconds = one->seconds[at];
        if (entry) {
            double acting = 0.0;
            for (int64_t act = 0; act < acts; act++) {
                int64_t in = ((m * runs + run) * tries + number) * acts + act;
                if (drawn->begins[in] < left)
                    acting += fmin(drawn->ends[in], left) - drawn->begins[in];
            }
            if (entry->tries == 0.0)
                entry->first = entry->changing + entry->rescuing;
            entry->tries += 1.0;
            entry->acting += acting;
            entry->driving += fmin(seconds, left) - acting;
        }
        if (seconds > left) {
            clock = limit;
            if (entry)
                entry->cut = 1.0;
            break;
        }
        clock += seconds;
        int64_t new_home = one->home[at] & ~now->home;
        if (new_home) {
            now->home |= new_home;
            told->score += rules->finish;
            if (entry)
                entry->earned += rules->finish;
        }
        if (one->through[at]) {
            now->through |= bit(run);
            if (entry)
                entry->success = 1.0;
            break;
        }
    }
    told->clock = clock;
    now->last = last;
    now->attempt = tried;
    now->done |= bit(run);
}

/* Play matches ``first`` and on in one order of runs: fill score (M,), clock (M,) and ledger (M, R). */
static int play_order(const Rules *rules, const Drawn *drawn, const int64_t *order, int64_t length, int64_t first,
                      int64_t count, double *score, double *clock, Ledger *ledger)
{
    OneMatch one;
    if (open_match(&one, rules, drawn))
        return -1;
    for (int64_t m = first; m < first + count; m++) {
        load_match(rules, drawn, m, &one);
        Standing now = {.last = -1};
        Told told = {0};
        for (int64_t k = 0; k < length; k++)
            turn(rules, &one, drawn, m, order[k], &now, &told, &ledger[m * rules->runs + order[k]]);
        score[m] = told.score;
        clock[m] = told.clock;
    }
    free(one.memory);
    return 0;
}

/* Play some matches in every order of a tree. run, depth (from 1) and skip are (N,); total (N + 1,) is added to, and is
 * to be summed up in turn. */
static int walk(const Rules *rules, const Drawn *drawn, const int64_t *run, const int64_t *depth, const int64_t *skip,
                int64_t nodes, int64_t first, int64_t count, double *total)
{
    int64_t deepest = 0;
    for (int64_t node = 0; node < nodes; node++)
        deepest = depth[node] > deepest ? depth[node] : deepest;
    double soonest = INFINITY;
    for (int64_t k = 0; k < rules->runs * rules->runs; k++)
        soonest = fmin(soonest, rules->change[k].mean);
    OneMatch one;
    if (open_match(&one, rules, drawn))
        return -1;
    Standing *now = calloc((size_t)deepest + 1, sizeof(Standing));
    Told *told = calloc((size_t)deepest + 1, sizeof(Told));
    if (now && told) {
        now[0].last = -1;
        for (int64_t m = first; m < first + count; m++) {
            load_match(rules, drawn, m, &one);
            for (int64_t node = 0; node < nodes;) {
                int64_t d = depth[node];
                now[d] = now[d - 1];
                told[d] = told[d - 1];
                turn(rules, &one, drawn, m, run[node], &now[d], &told[d], NULL);
                double more = told[d].score - told[d - 1].score;
                if (more != 0.0) {
                    total[node] += more;
                    total[skip[node]] -= more;
                }
                /* Below a node where nothing could be made ready in time nothing changes any more. */
                node = told[d].clock + soonest >= rules->limit ? skip[node] : node + 1;
            }
        }
    }
    int status = now && told ? 0 : -1;
    free(now);
    free(told);
    free(one.memory);
    return status;
}

/* Orders that are grown run by run, and what any of them could still score at best.
 *
 * The bound is that of a knapsack with the draws known beforehand. In one match, a run that has had k tries has taken at
 * least T_k seconds (changes, tries, and rescues where a robot stands out) and brought at most V_k points (of all it
 * hits, less its rescues). Only the last try of a match takes and costs less: the limit may cut it off after its first
 * hit, and nobody fetches the robot. So whatever order follows, its points are at most what fills the time that is left,
 * made longer by the most that a last try can save, if the upper hulls of (T_k, V_k) may be taken in parts, the densest
 * first; and the points of one rescue. Source: the linear relaxation of the multiple-choice knapsack; H. Kellerer,
 * U. Pferschy and D. Pisinger, "Knapsack Problems", 2004, chapter 11 (chapter from memory). */
typedef struct {
    double density, seconds, run; /* points a second; where that is infinite, ``seconds`` holds -points */
} Part;

typedef struct {
    double seconds, points; /* that a last try can save */
} Longer;

/* Fill parts (M, R J), the densest first and density 0 behind, and longer (M,). */
static int hulls(const Rules *rules, const Drawn *drawn, int64_t first, int64_t count, Part *parts, Longer *longer)
{
    int64_t runs = rules->runs, tries = drawn->tries, acts = rules->acts;
    double *t = calloc(2 * ((size_t)tries + 1), sizeof(double));
    int64_t *corner = calloc((size_t)tries + 1, sizeof(int64_t));
    if (!t || !corner) {
        free(t);
        free(corner);
        return -1;
    }
    double *v = t + tries + 1;
    for (int64_t m = first; m < first + count; m++) {
        Part *found = parts + m * runs * tries;
        int64_t n = 0;
        longer[m] = (Longer){0.0, 0.0};
        for (int64_t run = 0; run < runs; run++) {
            int64_t hit = 0, steps = 0;
            int home = 0;
            for (int64_t number = 0; number < tries; number++) {
                int64_t in = (m * runs + run) * tries + number;
                double ready = runs == 1 ? 0.0 : INFINITY;
                if (number > 0) {
                    if (drawn->through[in - 1])
                        break;
                    ready = by_hand(&rules->change[run * runs + run], drawn->change[in]);
                } else {
                    for (int64_t before = 0; before < runs; before++)
                        if (before != run)
                            ready = fmin(ready, by_hand(&rules->change[before * runs + run], drawn->change[in]));
                }
                double seconds = drawn->seconds[in], value = v[number], soonest = seconds;
                for (int64_t act = 0; act < acts; act++) {
                    int64_t target = rules->target[run * acts + act];
                    if (target < 0 || !drawn->hit[in * acts + act] || rules->points[target] <= 0.0)
                        continue;
                    soonest = fmin(soonest, drawn->ends[in * acts + act]);
                    if ((hit & bit(target)) == 0) {
                        hit |= bit(target);
                        value += rules->points[target];
                    }
                }
                if (drawn->home[in] && !home) {
                    home = 1;
                    value += fmax(0.0, rules->finish);
                }
                double saved = seconds - soonest;
                steps = number + 1;
                t[steps] = t[number] + ready + seconds;
                v[steps] = value;
                if (drawn->out[in]) {
                    double fetch = by_hand(rules->rescue, drawn->rescue[in]);
                    saved += fetch;
                    t[steps] += fetch;
                    v[steps] += rules->rescue_points;
                    longer[m].points = -rules->rescue_points;
                }
                longer[m].seconds = fmax(longer[m].seconds, saved);
            }
            /* The upper hull, from the left; what lies on it or below it drops out. */
            int64_t size = 1;
            corner[0] = 0;
            for (int64_t k = 1; k <= steps; k++) {
                while (size > 1) {
                    int64_t a = corner[size - 2], b = corner[size - 1];
                    if ((v[b] - v[a]) * (t[k] - t[a]) > (v[k] - v[a]) * (t[b] - t[a]))
                        break;
                    size--;
                }
                if (v[k] > v[corner[size - 1]])
                    corner[size++] = k;
            }
            for (int64_t k = 1; k < size; k++) {
                double longest = t[corner[k]] - t[corner[k - 1]], points = v[corner[k]] - v[corner[k - 1]];
                /* A try that takes no time at all is counted as points a second of no second: keep its points. */
                Part one = {longest > 0.0 ? points / longest : INFINITY, longest > 0.0 ? longest : -points, (double)run};
                int64_t place = n++;
                for (; place > 0 && found[place - 1].density < one.density; place--)
                    found[place] = found[place - 1];
                found[place] = one;
            }
        }
        memset(found + n, 0, (size_t)(runs * tries - n) * sizeof(Part));
    }
    free(t);
    free(corner);
    return 0;
}

/* What the runs that are not done could score at most in so many seconds, in one match. */
static double at_best(const Part *parts, int64_t count, int64_t done, double left)
{
    double points = 0.0;
    for (int64_t k = 0; k < count && parts[k].density > 0.0; k++) {
        if (done & bit((int64_t)parts[k].run))
            continue;
        if (parts[k].density == INFINITY) {
            points -= parts[k].seconds;
        } else if (parts[k].seconds < left) {
            points += parts[k].density * parts[k].seconds;
            left -= parts[k].seconds;
        } else {
            return points + parts[k].density * left;
        }
    }
    return points;
}

/* An order longer by each of ``more`` (C,): from its states now and told (M,) to those of the longer ones (C, M), their
 * mean score (C,) and what any order that begins so scores at most on average (C,). */
static int grow(const Rules *rules, const Drawn *drawn, const Part *parts, const Longer *longer, const Standing *now,
                const Told *told, const int64_t *more, int64_t count, int64_t done, Standing *grown, Told *grown_told,
                double *score, double *bound)
{
    OneMatch one;
    if (open_match(&one, rules, drawn))
        return -1;
    int64_t matches = drawn->matches, many = rules->runs * drawn->tries;
    for (int64_t c = 0; c < count; c++)
        score[c] = bound[c] = 0.0;
    for (int64_t m = 0; m < matches; m++) {
        load_match(rules, drawn, m, &one);
        for (int64_t c = 0; c < count; c++) {
            Standing *there = &grown[c * matches + m];
            Told *so_far = &grown_told[c * matches + m];
            *there = now[m];
            *so_far = told[m];
            turn(rules, &one, drawn, m, more[c], there, so_far, NULL);
            score[c] += so_far->score;
            bound[c] += so_far->score;
            double left = rules->limit - so_far->clock;
            if (left > 0.0)
                bound[c] += at_best(parts + m * many, many, done | bit(more[c]), left + longer[m].seconds) +
                            longer[m].points;
        }
    }
    for (int64_t c = 0; c < count; c++) {
        score[c] /= (double)matches;
        bound[c] /= (double)matches;
    }
    free(one.memory);
    return 0;
}

/* The best next run for every state of a match and every time that may be left, by dynamic programming.
 *
 * Times left are cells of a grid. A try of a run, after a run of some class and with the robot out or not, is told by
 * its chances: from which cell on it can be started, the share of tries in which each act is done within so many cells
 * and in which it ends at home within so many, and for each kind of end how many cells it takes, as shares. Its worth in
 * all cells is then a sum of these and of the values of the states it leads to, moved by the cells it takes: those are
 * known already, since states are done in an order in which each comes after those it leads to. */
typedef struct {
    const int64_t *start;
    const double *done, *home;
    const int64_t *first, *last;
    const double *share;
    int64_t runs, tries, acts, ends, cells, times;
} Chances;

typedef struct {
    const int64_t *first, *run, *attempt;
    const double *points, *finish;
    const int64_t *leads, *before, *out;
} Choices;

enum { STOP = -1, ALIKE = -2, CELLS = 256 };

/* What a choice brings on average in the cells from ``low`` to ``high``. */
static void worth(const Chances *all, const Choices *choices, double points, const double *value, int64_t choice,
                  int64_t chance, int out, int64_t low, int64_t high, double *restrict total)
{
    for (int64_t cell = low; cell < high; cell++)
        total[cell - low] = out ? points : 0.0;
    for (int64_t act = 0; act < all->acts; act++) {
        double each = choices->points[choice * all->acts + act];
        const double *done = all->done + (chance * all->acts + act) * all->times;
        if (each != 0.0)
            for (int64_t cell = low; cell < high; cell++)
                total[cell - low] += each * done[cell];
    }
    double finish = choices->finish[choice];
    const double *home = all->home + chance * all->times;
    for (int64_t cell = low; cell < high; cell++)
        total[cell - low] += finish * home[cell];
    for (int64_t kind = 0; kind < all->ends; kind++) {
        int64_t end = chance * all->ends + kind, after = choices->leads[choice * all->ends + kind];
        for (int64_t takes = all->first[end]; after >= 0 && takes < all->last[end]; takes++) {
            double share = all->share[end * all->cells + takes - all->first[end]];
            const double *then = value + after * all->times - takes;
            for (int64_t cell = takes > low ? takes : low; cell < high; cell++)
                total[cell - low] += share * then[cell];
        }
    }
}

/* Fill value (S, T) and chosen (S, T) of some states: the choice with the highest mean, STOP or ALIKE. One that comes
 * later must be better by ``margin``. */
static void best_choices(const Chances *all, const Choices *choices, double points, double margin, int64_t first,
                         int64_t count, double *value, int64_t *chosen)
{
    double total[CELLS];
    for (int64_t state = first; state < first + count; state++) {
        double *told = value + state * all->times;
        int64_t *best = chosen + state * all->times;
        int64_t begin = choices->first[state], end = choices->first[state + 1], out = choices->out[state] != 0;
        for (int64_t cell = 0; cell < all->times; cell++) {
            told[cell] = 0.0;
            best[cell] = begin < end ? STOP : ALIKE;
        }
        for (int64_t choice = begin; choice < end; choice++) {
            int64_t run = choices->run[choice], number = choices->attempt[choice];
            int64_t chance = ((choices->before[state] * 2 + out) * all->runs + run) * all->tries + number;
            for (int64_t low = all->start[chance]; low < all->times; low += CELLS) {
                int64_t high = low + CELLS < all->times ? low + CELLS : all->times;
                worth(all, choices, points, value, choice, chance, (int)out, low, high, total);
                for (int64_t cell = low; cell < high; cell++) {
                    double brings = total[cell - low];
                    if (brings == 0.0 && best[cell] == STOP) {
                        best[cell] = ALIKE;
                    } else if (brings > told[cell] + margin || (best[cell] < 0 && brings > 0.0)) {
                        best[cell] = choice;
                        told[cell] = brings;
                    }
                }
            }
        }
    }
}

#endif
