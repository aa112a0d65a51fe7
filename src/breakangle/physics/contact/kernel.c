/* A plucked string in its own modes, struck by the crowns under it. Plain C; the numbers are those of collide.py.
 *
 * Per mode: exact damped rotation over one step. Per crown: one-sided spring whose force is the discrete gradient of
 * its energy, in closed form. The mathematics, with the letters used here, is in collide.py, which does the same in
 * numpy; a test holds the two together.
 *
 * Free steps are taken in blocks: positions of the whole block come from powers of the rotation, so that each crown's
 * mode shape is read once for BLOCK steps. Where a block meets a crown, the steps before it are kept.
 *
 * Between crowns the string is looked at only every NEAR_LOOK steps, or with its low modes alone every WIDE_LOOK steps, as
 * long as a bound on what happens in between proves that no crown can be met; the state is then turned over all those
 * steps at once. Nothing is stepped coarsely: a crown is met at the same step, with the same push, as without looking ahead.
 *
 * The stepping itself, in kernel_body.h, is compiled for as many lanes as a kind of processor has; which one runs is
 * found out when it is first asked for.
 */
#if defined(__x86_64__) && defined(__GNUC__)
#include <cpuid.h>
#endif
#include <math.h>
#include <stdint.h>
#include <string.h>

#define BLOCK 8
#define HALF 4
#define MOST_CROWNS 48
#define MOST_SWEEPS 60
#define NEAR_LOOK 4
#define WIDE_LOOK 32
#define LEAST_SKIP 12
#define MOST_TURNS 6 /* two of each table: a skip is of BLOCK looks at most, and BLOCK is twice HALF */
static const int SEEN[3] = {3, 6, 7}; /* a glance at a block: its halves' ends, and the step before its end */
#if defined(__has_builtin)
#if __has_builtin(__builtin_shufflevector)
#define SHUFFLES
#endif
#endif
#define INLINE static inline __attribute__((always_inline))
#define JOIN_(name, lanes) name##_##lanes
#define JOIN(name, lanes) JOIN_(name, lanes)
#define OWN(name) JOIN(name, LANES)

/* One string at one stopped fret and one strength. Arrays over modes are padded with zeros to whole groups of lanes, and
 * [chunks] stands for that many groups. */
typedef struct {
    int64_t chunks;           /* modes / lanes: the width of the tables */
    int64_t used;             /* chunks with modes slow enough for the step: the only ones worked on */
    int64_t wide_used;        /* the first of them, enough to see a string that is far from every crown */
    int64_t crowns;           /* all crowns of the tables */
    int64_t live;             /* crowns this string has the energy to reach: the only ones looked at */
    int64_t start;            /* number of the first step */
    int64_t steps;
    const double *turn;        /* [2 * HALF][chunks]: r^m cos(m w h), then r^m sin(m w h), m = 1 .. HALF */
    const double *turn_near;   /* the same for steps NEAR_LOOK times as long */
    const double *turn_wide;   /* the same for steps WIDE_LOOK times as long; none: every step is looked at */
    const double *bend;        /* [chunks]: (w h)^2 / 8 */
    const double *shape;       /* [crowns][chunks]: mode shape at the crown */
    const double *kick;        /* [chunks]: speed before the step per newton where the shape is one */
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

/* Between rows of what crowns do to each other: the live ones side by side, so that all of it stays near the processor. */
INLINE int64_t across(const note *n) { return (n->live + 7) / 8 * 8; }

/* All crowns of one step: sweeps of closed-form pushes until they agree. Returns the largest change of the last sweep. */
INLINE double sweep(const note *n, const double *answer, const double *was, double *free, double *force) {
    int64_t live = n->live, row = across(n);
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
            double soft = answer[j * row + j], alone = free[j] + soft * force[j];
            if (alone <= 0.0 && was[j] <= 0.0 && force[j] == 0.0) continue;
            double next = push(was[j], alone, soft, n->spring), step = next - force[j];
            if (step != 0.0)
                for (int64_t i = 0; i < live; i++) free[i] -= answer[j * row + i] * step;
            force[j] = next;
            if (fabs(step) > change) change = fabs(step);
            if (next > largest) largest = next;
        }
        if (pushing == 1) {
            /* One crown alone is solved at once, unless its push lifts the string into another. */
            int more = 0;
            for (int64_t j = 0; j < live; j++) more += force[j] == 0.0 && was[j] <= 0.0 && free[j] > 0.0;
            if (!more) return 0.0;
            pushing += more;
        }
        if (change <= 1e-15 * largest) break;
    }
    return change;
}

/* Write down one push. */
INLINE void tally(const note *n, int64_t row, double force, int64_t at) {
    n->impulse[row] += force;
    n->touched[row] += 1;
    if (force > n->most_force[row]) n->most_force[row] = force;
    if (n->first[row] < 0) n->first[row] = n->start + at;
}

/* Any processor: pairs. */
#define LANES 2
#define WIDE 1
#include "kernel_body.h"
#undef LANES
#undef WIDE

#if defined(__x86_64__) && defined(__GNUC__) && !defined(ONE_CPU)
#define KINDS 3
#ifdef __clang__
/* Every feature by its name: where the compiler is told a processor without it, as the one that pip installs is, the
 * name of a kind of processor brings none of them back, and all lanes are worked on two at a time. */
#define V3 "avx2,bmi,bmi2,fma"
#pragma clang attribute push(__attribute__((target(V3))), apply_to = function)
#else
#pragma GCC push_options
#pragma GCC target("arch=x86-64-v3")
#endif
#define LANES 4
#define WIDE 1
#include "kernel_body.h"
#undef LANES
#undef WIDE
#ifdef __clang__
#pragma clang attribute pop
#pragma clang attribute push(__attribute__((target(V3 ",avx512f,avx512bw,avx512cd,avx512dq,avx512vl"))), apply_to = function)
#else
#pragma GCC pop_options
#pragma GCC push_options
#pragma GCC target("arch=x86-64-v4")
#endif
#define LANES 8
#ifdef __clang__
#define WIDE 1 /* it keeps the sums of two crowns in memory, not in registers */
#else
#define WIDE 2
#endif
#include "kernel_body.h"
#undef LANES
#undef WIDE
#ifdef __clang__
#pragma clang attribute pop
#else
#pragma GCC pop_options
#endif
#else
#define KINDS 1
#endif

/* Lanes of the fastest form that this processor runs: tables must be laid out in groups of that many.
 *
 * Asked of the processor itself, since not every compiler's own way of asking is there when it is linked. Bits: Intel 64
 * and IA-32 Architectures Software Developer's Manual, volume 2, CPUID leaves 1 and 7, and XCR0. */
int64_t breakangle_lanes(void) {
#if KINDS == 3
    uint32_t a, b, c, d, state, high;
    if (!__get_cpuid(1, &a, &b, &c, &d)) return 2;
    int fused = c >> 12 & 1, keeps_state = c >> 27 & 1;
    if (!fused || !keeps_state || !__get_cpuid_count(7, 0, &a, &b, &c, &d)) return 2;
    __asm__("xgetbv" : "=a"(state), "=d"(high) : "c"(0));
    int avx2 = b >> 5 & 1, bmi2 = b >> 8 & 1;
    int f = b >> 16 & 1, dq = b >> 17 & 1, cd = b >> 28 & 1, bw = b >> 30 & 1, vl = b >> 31 & 1;
    if (!avx2 || !bmi2 || (state & 0x06) != 0x06) return 2;
    return f && dq && cd && bw && vl && (state & 0xe6) == 0xe6 ? 8 : 4;
#else
    return 2;
#endif
}

/* Read before the first call: a library built from another form of this file must not be used. */
int64_t breakangle_strike_form(void) { return 1000 * (int64_t)sizeof(note) + 10 * BLOCK + HALF + NEAR_LOOK + WIDE_LOOK; }

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
