#include "measure/demand.h"

#include "measure/beside.h"
#include "measure/comb.h"
#include "measure/gram.h"
#include "measure/noisy.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LINES_MAX = 200, ROUNDS_MAX = 40, PRODUCT_ORDER_MAX = 5 };

/* From here on one false line would turn the whole comb to suit itself, and there are hundreds that may. */
static const double high_order = 10;

double gw_line_demand(int order) {
    double k = order < 1 ? 1 : order;
    return 8 + 2 * log(k) + 2 * log(fmax(k / high_order, 1));
}

static size_t lines_allowed(const gw_fit *fit) {
    size_t by_samples = fit->present / 6;
    return by_samples < LINES_MAX ? by_samples : LINES_MAX;
}

size_t gw_lines_left(const gw_fit *fit) {
    size_t allowed = lines_allowed(fit);
    return allowed > fit->line_count ? allowed - fit->line_count : 0;
}

void gw_wish_add(const gw_fit *fit, gw_wishes *list, int signal, int second, int mains, int order) {
    gw_sinusoid line = {.multiple = {signal, second, mains}};
    double frequency = gw_fit_frequency(fit, &line);
    if (list->count == GW_WISHES_MAX || frequency <= 0 || frequency * (double)fit->count < GW_LEAST_APART * 0.8 ||
        frequency > 0.5 - 0.5 / (double)fit->count || gw_fit_find(fit, signal, second, mains) < fit->line_count)
        return;
    list->items[list->count++] = (gw_wish){.multiple = {signal, second, mains}, .order = order};
}

/* From so many harmonics on, and for records so many times longer, one pass for all is quicker than one for each. */
enum { COMB_FROM = 24, COMB_LENGTH = 4 };

/* Highest harmonic of the signal on a list of nothing else (an order is positive, as its frequency is); 0 where one
 * pass for all has no use. */
static size_t comb_orders(const gw_fit *fit, const gw_wishes *list) {
    size_t most = 0;
    for (size_t k = 0; k < list->count; k++) {
        const int *multiple = list->items[k].multiple;
        if (multiple[GW_BASE_SECOND] || multiple[GW_BASE_MAINS])
            return 0;
        most = (size_t)multiple[GW_BASE_SIGNAL] > most ? (size_t)multiple[GW_BASE_SIGNAL] : most;
    }
    return list->count >= COMB_FROM && most <= GW_COMB_ORDERS && fit->count > COMB_LENGTH * most ? most : 0;
}

static void wish_put(gw_wish *wish, const gw_candidate *candidate) {
    wish->drop = candidate->share < 0.02 ? 0 : candidate->drop;
    wish->cosine = candidate->cosine;
    wish->sine = candidate->sine;
}

/* All harmonics at once, of `orders` at most. */
static void orders_weigh(const gw_fit *fit, gw_wishes *list, size_t orders) {
    double cosines[GW_COMB_ORDERS + 1], sines[GW_COMB_ORDERS + 1];
    gw_moments known[2 * GW_COMB_ORDERS + 1];
    gw_comb_dot(fit->shelf, fit->residual, fit->count, fit->base[GW_BASE_SIGNAL], orders, cosines, sines);
    gw_moments_orders(fit, fit->base[GW_BASE_SIGNAL], 2 * orders + 1, known);
    for (size_t from = 0; from < list->count; from += GW_AT_ONCE) {
        size_t some = list->count - from < GW_AT_ONCE ? list->count - from : GW_AT_ONCE;
        int of[GW_AT_ONCE] = {0};
        double c[GW_AT_ONCE], s[GW_AT_ONCE];
        gw_candidate candidates[GW_AT_ONCE];
        for (size_t k = 0; k < some; k++) {
            of[k] = list->items[from + k].multiple[GW_BASE_SIGNAL];
            c[k] = cosines[of[k]];
            s[k] = sines[of[k]];
        }
        gw_fit_candidates(fit, known, 2 * orders + 1, of, some, c, s, candidates);
        for (size_t k = 0; k < some; k++)
            wish_put(&list->items[from + k], &candidates[k]);
    }
}

void gw_wishes_weigh(const gw_fit *fit, gw_wishes *list) {
    size_t orders = fit->solved ? comb_orders(fit, list) : 0;
    if (orders > 0) {
        orders_weigh(fit, list, orders);
        return;
    }
    for (size_t k = 0; k < list->count; k++) {
        gw_sinusoid line = {0};
        memcpy(line.multiple, list->items[k].multiple, sizeof line.multiple);
        gw_candidate candidate = gw_fit_candidate(fit, gw_fit_frequency(fit, &line));
        wish_put(&list->items[k], &candidate);
    }
}

static size_t wishes_best(const gw_wishes *list) {
    size_t best = 0;
    for (size_t k = 1; k < list->count; k++)
        if (list->items[k].drop > list->items[best].drop)
            best = k;
    return best;
}

/* Wishes that are taken together: the first `count` on the list, of odd order only or all. */
typedef struct crowd {
    size_t count, lines; /* of the list; those of them that are taken */
    bool odd;
    double drop, gain; /* what they bring; that beyond what noise and their number ask for */
    double noise;      /* the variance left without any of the list */
} crowd;

static bool in_crowd(const crowd *c, const gw_wish *wish) {
    return !c->odd || wish->order % 2;
}

/* What more lines cost that do not stand out by themselves: twice what noise brings each (Akaike 1974). A line is
 * taken for its place, not for its size, so that the noise left is not that of the smallest. */
static const double crowd_cost = 4;

/* The first wishes on the list, as many as bring most; none counts for more than lets it in by itself, or one strong
 * line would bring all below it along. */
static crowd crowd_first(const gw_wishes *list, bool odd, double noise) {
    crowd now = {.odd = odd, .noise = noise}, best = now;
    for (size_t k = 0; k < list->count; k++) {
        now.count = k + 1;
        if (!in_crowd(&now, &list->items[k]))
            continue;
        now.lines++;
        double most = gw_line_demand(list->items[k].order) * noise;
        now.drop += noise > 0 ? fmin(list->items[k].drop, most) : list->items[k].drop;
        now.gain = now.drop - crowd_cost * noise * (double)now.lines;
        best = now.gain > best.gain ? now : best;
    }
    return best;
}

/* The variance that is left without all wishes; 0 where they explain everything. */
static double noise_beside(const gw_fit *fit, const gw_wishes *list, double step) {
    double sum = 0, spare = (double)fit->present - (double)fit->unknowns - 2 * (double)list->count;
    for (size_t k = 0; k < list->count; k++)
        sum += list->items[k].drop;
    return sum >= fit->rss ? 0 : spare < 8 ? INFINITY : fmax((fit->rss - sum) / spare, step * step / 12);
}

/* Wishes that together bring far more than noise would, though none alone does (a narrow pulse: many equal lines);
 * none: no lines. */
static crowd crowd_find(const gw_fit *fit, const gw_wishes *list, double step) {
    crowd none = {0};
    if (gw_fit_variance(fit) < 2 * step * step / 12 || list->count < 4)
        return none;
    double noise = noise_beside(fit, list, step);
    crowd all = crowd_first(list, false, noise), odd = crowd_first(list, true, noise);
    crowd best = odd.gain > all.gain ? odd : all;
    double lines = (double)best.lines;
    return best.lines >= 4 && best.drop > noise * (2 * lines + 8 * sqrt(lines) + 20) ? best : none;
}

/* What a line must bring to be let in by itself. */
typedef struct demand {
    double noise, steps, least; /* what noise brings, what the steps may; that of the weakest to be let in */
    bool leaning;               /* all of a crowd in a record of few cycles, starting from nothing */
} demand;

static bool is_demanded(const demand *d, const gw_wish *wish) {
    return wish->drop >= d->least && (d->leaning || wish->drop > gw_line_demand(wish->order) * d->noise + d->steps);
}

/* Of two tones products may fall on each other (2:3 has 2f₁-f₂ on f₂-f₁): nearer than this, in cycles of the record,
 * one of them stands for both. */
static const double same_product = 0.5;

static double frequency_of(const gw_fit *fit, const gw_wish *wish) {
    gw_sinusoid line = {0};
    memcpy(line.multiple, wish->multiple, sizeof line.multiple);
    return gw_fit_frequency(fit, &line);
}

/* Does a wish join, by itself or as one of the crowd? */
static bool joins(const gw_wishes *list, size_t k, const demand *d, const crowd *c) {
    return is_demanded(d, &list->items[k]) || (k < c->count && in_crowd(c, &list->items[k]));
}

/* Does another wish that joins, of lower order or before it on the list, stand where this one does? */
static bool is_double(const gw_fit *fit, const gw_wishes *list, size_t of, const demand *d, const crowd *c) {
    const gw_wish *w = &list->items[of];
    for (size_t k = 0; fit->base[GW_BASE_SECOND] > 0 && k < list->count; k++) {
        const gw_wish *other = &list->items[k];
        bool before = other->order < w->order || (other->order == w->order && k < of);
        if (before && joins(list, k, d, c) &&
            fabs(frequency_of(fit, other) - frequency_of(fit, w)) * (double)fit->count < same_product)
            return true;
    }
    return false;
}

/* The wishes that stand out each by itself, and those of the crowd. */
static bool demanded_add(gw_fit *fit, const gw_wishes *list, const demand *d, const crowd *c, bool one_by_one,
                         size_t *added, gw_error *error) {
    for (size_t k = 0; k < list->count && fit->line_count < lines_allowed(fit); k++) {
        const gw_wish *w = &list->items[k];
        if (!joins(list, k, d, c) || is_double(fit, list, k, d, c))
            continue;
        if (!gw_fit_add(fit, w->multiple[0], w->multiple[1], w->multiple[2], error))
            return false;
        fit->lines[fit->line_count - 1].cosine = d->leaning ? 0 : w->cosine;
        fit->lines[fit->line_count - 1].sine = d->leaning ? 0 : w->sine;
        ++*added;
        if (one_by_one)
            break;
    }
    return true;
}

/* In a record of fewer cycles lines lean on each other, and a pitch that is still off goes astray with some of them:
 * all that are not far below the strongest are taken. */
static const double leaning_cycles = 2.2;

/* Beside a strong line those far below it are left for the next round: they may be what it leaks. */
static const double leaked_most = 0.01;

/* One round: adds the wishes that the record demands. The number added. */
static bool round_add(gw_model *model, gw_wishes *list, bool one_by_one, size_t *added, gw_error *error) {
    gw_fit *fit = &model->fit;
    *added = 0;
    gw_wishes_weigh(fit, list);
    if (!list->count)
        return true;
    const gw_wish *best = &list->items[wishes_best(list)];
    crowd all = crowd_find(fit, list, model->step);
    demand d = {.noise = all.lines > 0 ? all.noise : gw_fit_variance(fit), .steps = gw_steps_drop(model)};
    d.least = one_by_one ? best->drop : leaked_most * best->drop;
    d.leaning = all.lines > 0 && fit->base[GW_BASE_SIGNAL] * (double)fit->count < leaning_cycles;
    d.noise = d.leaning ? 0 : d.noise;
    /* what a strong line leaks is not to be taken for a crowd */
    if (one_by_one || d.least > gw_line_demand(1) * d.noise)
        all.count = 0;
    return demanded_add(fit, list, &d, &all, one_by_one, added, error) && (!*added || gw_fit_solve(fit, error));
}

static void wish_products(const gw_fit *fit, gw_wishes *list) {
    for (int i = -PRODUCT_ORDER_MAX; i <= PRODUCT_ORDER_MAX; i++)
        for (int j = -PRODUCT_ORDER_MAX; j <= PRODUCT_ORDER_MAX; j++)
            if (abs(i) + abs(j) <= PRODUCT_ORDER_MAX)
                gw_wish_add(fit, list, i, j, 0, abs(i) + abs(j));
}

static void wish_harmonics(const gw_fit *fit, gw_wishes *list) {
    for (int order = 2; order <= GW_WISHES_MAX && order * fit->base[GW_BASE_SIGNAL] < 0.5; order++)
        gw_wish_add(fit, list, order, 0, 0, order);
}

bool gw_lines_grow(gw_model *model, gw_error *error) {
    gw_fit *fit = &model->fit;
    double cycles = fit->base[GW_BASE_SIGNAL] * (double)fit->count;
    for (int round = 0; round < ROUNDS_MAX && !gw_fit_exact(fit); round++) {
        gw_wishes list;
        list.count = 0; /* the rest stays as it is: it is large */
        if (model->two_tone)
            wish_products(fit, &list);
        else
            wish_harmonics(fit, &list);
        size_t added;
        bool one_by_one = cycles < 5 && fit->line_count < 4 && fit->base_free[GW_BASE_SIGNAL];
        if (!round_add(model, &list, one_by_one, &added, error))
            return false;
        if (!added || !fit->solved)
            break;
    }
    return true;
}

/* ---- octaves ------------------------------------------------------------------------------------- */

static int common_divisor(int one, int other) {
    while (other) {
        int rest = one % other;
        one = other;
        other = rest;
    }
    return one;
}

/* What a line must bring beyond its demand to lower the pitch of all others: what fits a comb of half the frequency by
 * chance is let in now and then. */
static const double octave_more = 10;

static bool counts(const gw_fit *fit, const gw_sinusoid *line, double noise) {
    double drop = 0.5 * (line->cosine * line->cosine + line->sine * line->sine) * (double)fit->present;
    return drop > (gw_line_demand(line->multiple[GW_BASE_SIGNAL]) + octave_more) * noise;
}

/* Highest whole number that all lines of the comb are multiples of. A fundamental that was only put there to lead
 * counts where it stands above the noise, and above what lies beside it. */
static int orders_divisor(const gw_fit *fit) {
    double noise = gw_fit_variance(fit);
    int divisor = 0;
    for (size_t k = 0; k < fit->line_count; k++) {
        int order = fit->lines[k].multiple[GW_BASE_SIGNAL];
        if (order && order != 1 && counts(fit, &fit->lines[k], noise))
            divisor = common_divisor(divisor, order);
    }
    size_t first = gw_fit_find(fit, 1, 0, 0);
    if (divisor == 1 || first == fit->line_count || !counts(fit, &fit->lines[first], noise))
        return divisor;
    return divisor == 0 || counts(fit, &fit->lines[first], gw_noise_at(fit, 1)) ? 1 : divisor;
}

bool gw_octave_settle(gw_model *model, bool *moved, gw_error *error) {
    gw_fit *fit = &model->fit;
    int divisor = model->two_tone ? 1 : orders_divisor(fit);
    *moved = divisor >= 2;
    if (!*moved)
        return true;
    fit->base[GW_BASE_SIGNAL] *= divisor;
    fit->started = false;
    for (size_t k = fit->line_count; k-- > 0;) {
        int *order = &fit->lines[k].multiple[GW_BASE_SIGNAL];
        if (*order % divisor)
            gw_fit_remove(fit, k);
        else
            *order /= divisor;
    }
    return gw_fit_solve(fit, error);
}
