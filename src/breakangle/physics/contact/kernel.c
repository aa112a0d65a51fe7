/* A plucked string in its own modes, struck by the crowns under it. Plain C; the numbers are those of collide.py.
 *
 * Per mode: exact damped rotation over one step. Per crown: one-sided spring whose force is the discrete gradient of
 * its energy, in closed form. The mathematics, with the letters used here, is in collide.py, which does the same in
 * numpy; a test holds the two together.
 *
 * Free steps are taken in blocks: positions of the whole block come from powers of the rotation, so that each crown's
 * mode shape is read once for BLOCK steps. Where a block meets a crown, the steps before it are kept.
 *
 * The stepping itself, in kernel_body.h, is compiled for as many lanes as a kind of processor has; which one runs is
 * found out when it is first asked for.
 */
#include <math.h>
#include <stdint.h>
#include <string.h>

#define BLOCK 8
#define HALF 4
#define MOST_CROWNS 48
#define MOST_SWEEPS 60
#define INLINE static inline __attribute__((always_inline))
#define JOIN_(name, lanes) name##_##lanes
#define JOIN(name, lanes) JOIN_(name, lanes)
#define OWN(name) JOIN(name, LANES)

/* One string at one stopped fret and one strength. Arrays over modes are padded with zeros to whole groups of lanes, and
 * [chunks] stands for that many groups. */
typedef struct {
    int64_t chunks;           /* modes / lanes: the width of the tables */
    int64_t used;             /* chunks with modes slow enough for the step: the only ones worked on */
    int64_t crowns;           /* all crowns of the tables */
    int64_t live;             /* crowns this string has the energy to reach: the only ones looked at */
    int64_t start;            /* number of the first step */
    int64_t steps;
    const double *turn;        /* [chunks][2 * HALF]: r^m cos(m w h), then r^m sin(m w h), m = 1 .. HALF */
    const double *shape;       /* [crowns][chunks]: mode shape at the crown */
    const double *kick_place;  /* [chunks]: place after the step per newton where the shape is one */
    const double *kick_speed;  /* [chunks] */
    const double *answer;     /* [crowns][crowns]: place of one crown per newton at another, in one step */
    const double *gap;        /* [crowns] */
    const int64_t *row;       /* [live]: which crowns those are */
    double spring;            /* N/mm */
    double *place;             /* [chunks], in and out */
    double *speed;             /* [chunks], speed over angular frequency, in and out */
    double *depth;            /* [2][live]: depth one step before the state, then at the state, in and out */
    double *work;              /* [chunks][BLOCK] */
    double *impulse;          /* [crowns], N times steps, out */
    int64_t *first;           /* [crowns], step of the first touch or -1, out */
    int64_t *touched;         /* [crowns], steps with force, out */
    double *most_force;       /* [crowns], out */
    double *least_force;      /* [1], out */
    double *residual;         /* [1], worst unfinished sweep, N, out */
} note;

/* Force of one crown, N: was = depth two half-steps ago, free = depth if nothing pushed, soft = mm per newton. */
INLINE double push(double was, double free, double soft, double spring) {
    double a = 0.5 * spring * soft;
    if (was <= 0.0) {
        if (free <= 0.0) return 0.0;
        double b = was + free;
        double root = sqrt(b * b - 4.0 * (1.0 + a) * was * free);
        double now = b > 0.0 ? (b + root) / (2.0 * (1.0 + a)) : 2.0 * was * free / (b - root);
        return now > 0.0 ? 0.5 * spring * now * now / (now - was) : 0.0;
    }
    double now = (free - a * was) / (1.0 + a);
    if (now > 0.0) return 0.5 * spring * (now + was);
    double gone = was - free;
    double root = sqrt(gone * gone + 4.0 * a * was * was);
    double rise = gone > 0.0 ? 0.5 * (gone + root) : 2.0 * a * was * was / (root - gone);
    return 0.5 * spring * was * was / fmax(rise, was);
}

/* All crowns of one step: sweeps of closed-form pushes until they agree. Returns the largest change of the last sweep. */
INLINE double sweep(const note *n, const double *was, double *free, double *force) {
    int64_t live = n->live;
    int pushing = 0;
    for (int64_t j = 0; j < live; j++) {
        force[j] = 0.0;
        pushing += free[j] > 0.0 || was[j] > 0.0;
    }
    double change = 0.0;
    for (int round = 0; round < MOST_SWEEPS; round++) {
        double largest = 0.0;
        change = 0.0;
        for (int64_t j = 0; j < live; j++) {
            const double *answer = n->answer + n->row[j] * n->crowns;
            double soft = answer[n->row[j]];
            double alone = free[j] + soft * force[j];
            if (alone <= 0.0 && was[j] <= 0.0 && force[j] == 0.0) continue;
            double next = push(was[j], alone, soft, n->spring), step = next - force[j];
            if (step != 0.0)
                for (int64_t i = 0; i < live; i++) free[i] -= answer[n->row[i]] * step;
            force[j] = next;
            change = fmax(change, fabs(step));
            largest = fmax(largest, next);
        }
        if (change <= 1e-15 * largest || (pushing == 1 && round == 1)) break;
    }
    return change;
}

INLINE int meets(const note *n, const double *height, const double *was) {
    for (int64_t j = 0; j < n->live; j++)
        if (-(n->gap[n->row[j]] + height[j]) > 0.0 || was[j] > 0.0) return 1;
    return 0;
}

/* Any processor: pairs. */
#define LANES 2
#define WIDE 1
#include "kernel_body.h"
#undef LANES
#undef WIDE

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(ONE_CPU)
#define KINDS 3
#pragma GCC push_options
#pragma GCC target("arch=x86-64-v3")
#define LANES 4
#define WIDE 1
#include "kernel_body.h"
#undef LANES
#undef WIDE
#pragma GCC pop_options
#pragma GCC push_options
#pragma GCC target("arch=x86-64-v4")
#define LANES 8
#define WIDE 2
#include "kernel_body.h"
#undef LANES
#undef WIDE
#pragma GCC pop_options
#else
#define KINDS 1
#endif

/* Lanes of the fastest form that this processor runs: tables must be laid out in groups of that many. */
int64_t breakangle_lanes(void) {
#if KINDS == 3
    __builtin_cpu_init();
    if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512vl") && __builtin_cpu_supports("avx512dq") &&
        __builtin_cpu_supports("avx512bw") && __builtin_cpu_supports("avx512cd"))
        return 8;
    if (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma") && __builtin_cpu_supports("bmi2")) return 4;
#endif
    return 2;
}

/* Read before the first call: a library built from another form of this file must not be used. */
int64_t breakangle_strike_form(void) { return 1000 * (int64_t)sizeof(note) + 10 * BLOCK + HALF; }

/* Steps a string over its crowns, with tables in groups of `lanes`. */
void breakangle_strike(const note *n, int64_t lanes) {
#if KINDS == 3
    if (lanes == 8) { strike_8(n); return; }
    if (lanes == 4) { strike_4(n); return; }
#endif
    (void)lanes;
    strike_2(n);
}

/* The same string without crowns: heights over every live crown at each of n->steps steps, out[live][steps].
 * The heights at the release itself are not among them. */
void breakangle_swing(const note *n, int64_t lanes, double *out) {
#if KINDS == 3
    if (lanes == 8) { swing_8(n, out); return; }
    if (lanes == 4) { swing_4(n, out); return; }
#endif
    (void)lanes;
    swing_2(n, out);
}
