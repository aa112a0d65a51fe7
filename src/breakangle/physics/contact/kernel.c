/* A plucked string in its own modes, struck by the crowns under it. Plain C, no headers but this file's own needs.
 *
 * Per mode: exact damped rotation over one step. Per crown: one-sided spring whose force is the discrete gradient of
 * its energy, in closed form. The mathematics, with the letters used here, is in collide.py, which does the same in
 * numpy; a test holds the two together.
 *
 * Free steps are taken in blocks: positions of the whole block come from powers of the rotation, so that each crown's
 * mode shape is read once for BLOCK steps. Where a block meets a crown, the steps before it are kept.
 */
#include <math.h>
#include <stdint.h>
#include <string.h>

#define LANES 8
#define BLOCK 8
#define HALF 4
#define WIDE 2
#define MOST_CROWNS 48
#define MOST_SWEEPS 60

typedef double lanes __attribute__((vector_size(LANES * sizeof(double)), aligned(8)));

/* The same source compiled for three generations of x86; the loader picks one when the library opens. */
#if !defined(ONE_CPU) && defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && defined(__gnu_linux__)
#define EVERY_CPU __attribute__((target_clones("arch=x86-64-v4", "arch=x86-64-v3", "default")))
#else
#define EVERY_CPU
#endif
#define INLINE static inline __attribute__((always_inline))

/* One string at one stopped fret and one strength. Arrays over modes are padded with zeros to whole lanes. */
typedef struct {
    int64_t chunks;           /* modes / LANES: the width of the tables */
    int64_t used;             /* chunks with modes slow enough for the step: the only ones worked on */
    int64_t crowns;           /* all crowns of the tables */
    int64_t live;             /* crowns this string has the energy to reach: the only ones looked at */
    int64_t start;            /* number of the first step */
    int64_t steps;
    const lanes *turn;        /* [chunks][2 * HALF]: r^m cos(m w h), then r^m sin(m w h), m = 1 .. HALF */
    const lanes *shape;       /* [crowns][chunks]: mode shape at the crown */
    const lanes *kick_place;  /* [chunks]: place after the step per newton where the shape is one */
    const lanes *kick_speed;  /* [chunks] */
    const double *answer;     /* [crowns][crowns]: place of one crown per newton at another, in one step */
    const double *gap;        /* [crowns] */
    const int64_t *row;       /* [live]: which crowns those are */
    double spring;            /* N/mm */
    lanes *place;             /* [chunks], in and out */
    lanes *speed;             /* [chunks], speed over angular frequency, in and out */
    double *depth;            /* [2][live]: depth one step before the state, then at the state, in and out */
    lanes *work;              /* [chunks][BLOCK] */
    double *impulse;          /* [crowns], N times steps, out */
    int64_t *first;           /* [crowns], step of the first touch or -1, out */
    int64_t *touched;         /* [crowns], steps with force, out */
    double *most_force;       /* [crowns], out */
    double *least_force;      /* [1], out */
    double *residual;         /* [1], worst unfinished sweep, N, out */
} note;

/* Read before the first call: a library built from another form of this file must not be used. */
int64_t breakangle_strike_form(void) { return 1000 * (int64_t)sizeof(note) + 10 * BLOCK + HALF; }

INLINE double total(lanes x) { return ((x[0] + x[4]) + (x[2] + x[6])) + ((x[1] + x[5]) + (x[3] + x[7])); }

/* Force of one crown, N: was = depth two half-steps ago, free = depth if nothing pushed, soft = mm per newton. */
INLINE double push(double was, double free, double soft, double spring) {
    double a = 0.5 * spring * soft;
    if (was <= 0.0) {
        if (free <= 0.0) return 0.0;
        double b = was + free;
        double root = sqrt(b * b - 4.0 * (1.0 + a) * was * free);
        double now = b > 0.0 ? (b + root) / (2.0 * (1.0 + a)) : 2.0 * was * free / (b - root);
        return 0.5 * spring * now * now / (now - was);
    }
    double now = (free - a * was) / (1.0 + a);
    if (now > 0.0) return 0.5 * spring * (now + was);
    double gone = was - free;
    double root = sqrt(gone * gone + 4.0 * a * was * was);
    double rise = gone > 0.0 ? 0.5 * (gone + root) : 2.0 * a * was * was / (root - gone);
    return 0.5 * spring * was * was / rise;
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

/* Heights at `wide` crowns for `count` steps: each mode shape is read once, each place once for all these crowns. */
INLINE void gather(const note *n, int64_t first, int wide, int count, double height[BLOCK][MOST_CROWNS]) {
    const lanes *shape[WIDE];
    lanes sum[WIDE][BLOCK];
    for (int w = 0; w < wide; w++) {
        shape[w] = n->shape + n->row[first + w] * n->chunks;
        for (int m = 0; m < count; m++) sum[w][m] = (lanes){0};
    }
    for (int64_t k = 0; k < n->used; k++)
        for (int m = 0; m < count; m++) {
            lanes place = n->work[k * BLOCK + m];
            for (int w = 0; w < wide; w++) sum[w][m] += shape[w][k] * place;
        }
    for (int w = 0; w < wide; w++)
        for (int m = 0; m < count; m++) height[m][first + w] = total(sum[w][m]);
}

/* Places of the next `count` free steps into work[chunk][m], then heights at the crowns into height[m][crown]. */
INLINE void look_ahead(const note *n, int count, double height[BLOCK][MOST_CROWNS]) {
    for (int64_t k = 0; k < n->used; k++) {
        lanes q = n->place[k], v = n->speed[k], *ahead = n->work + k * BLOCK;
        const lanes *turn = n->turn + k * 2 * HALF;
        for (int m = 0; m < HALF && m < count; m++) ahead[m] = turn[m] * q + turn[HALF + m] * v;
        if (count <= HALF) continue;
        lanes far_v = turn[HALF - 1] * v - turn[2 * HALF - 1] * q, far_q = ahead[HALF - 1];
        for (int m = 0; m < HALF; m++) ahead[HALF + m] = turn[m] * far_q + turn[HALF + m] * far_v;
    }
    int64_t j = 0;
    for (; j + WIDE <= n->live; j += WIDE) gather(n, j, WIDE, count, height);
    for (; j < n->live; j++) gather(n, j, 1, count, height);
}

/* Move the state to free step m of the block (m counts from 0). */
INLINE void settle(const note *n, int m) {
    for (int64_t k = 0; k < n->used; k++) {
        const lanes *turn = n->turn + k * 2 * HALF;
        lanes q = n->place[k], v = n->speed[k];
        int left = m;
        if (m >= HALF) {
            v = turn[HALF - 1] * v - turn[2 * HALF - 1] * q;
            q = n->work[k * BLOCK + HALF - 1];
            left = m - HALF;
        }
        n->speed[k] = turn[left] * v - turn[HALF + left] * q;
        n->place[k] = n->work[k * BLOCK + m];
    }
}

INLINE int meets(const note *n, const double *height, const double *was) {
    for (int64_t j = 0; j < n->live; j++)
        if (-(n->gap[n->row[j]] + height[j]) > 0.0 || was[j] > 0.0) return 1;
    return 0;
}

/* was = depth one step before the state; here = depth at the state. */
EVERY_CPU void breakangle_strike(const note *n) {
    double height[BLOCK][MOST_CROWNS], was[MOST_CROWNS], here[MOST_CROWNS], free[MOST_CROWNS], force[MOST_CROWNS];
    int64_t live = n->live, chunks = n->chunks, used = n->used, at = 0;
    int calm = 0;
    memcpy(was, n->depth, sizeof(double) * (size_t)live);
    memcpy(here, n->depth + live, sizeof(double) * (size_t)live);
    while (at < n->steps) {
        int count = (calm >= 2 && n->steps - at >= BLOCK) ? BLOCK : 1;
        if (count == BLOCK) look_ahead(n, BLOCK, height);
        else look_ahead(n, 1, height);
        int m = 0;
        while (m < count && !meets(n, height[m], was)) {
            for (int64_t j = 0; j < live; j++) {
                was[j] = here[j];
                here[j] = -(n->gap[n->row[j]] + height[m][j]);
            }
            m++;
        }
        if (m > 0) {
            settle(n, m - 1);
            at += m;
            calm += m;
            if (m == count) continue;
            /* the next step meets a crown: take it alone, from the settled state */
            look_ahead(n, 1, height);
            m = 0;
        }
        for (int64_t j = 0; j < live; j++) free[j] = -(n->gap[n->row[j]] + height[m][j]);
        *n->residual = fmax(*n->residual, sweep(n, was, free, force));
        settle(n, 0);
        for (int64_t j = 0; j < live; j++) {
            *n->least_force = fmin(*n->least_force, force[j]);
            if (force[j] == 0.0) continue;
            int64_t row = n->row[j];
            const lanes *shape = n->shape + row * chunks;
            for (int64_t k = 0; k < used; k++) {
                lanes push_here = shape[k] * force[j];
                n->place[k] += n->kick_place[k] * push_here;
                n->speed[k] += n->kick_speed[k] * push_here;
            }
            n->impulse[row] += force[j];
            n->touched[row] += 1;
            n->most_force[row] = fmax(n->most_force[row], force[j]);
            if (n->first[row] < 0) n->first[row] = n->start + at;
        }
        for (int64_t j = 0; j < live; j++) {
            was[j] = here[j];
            here[j] = free[j];
        }
        calm = 0;
        at++;
    }
    memcpy(n->depth, was, sizeof(double) * (size_t)live);
    memcpy(n->depth + live, here, sizeof(double) * (size_t)live);
}
