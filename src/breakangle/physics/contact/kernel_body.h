/* The stepping of kernel.c for groups of LANES doubles, WIDE crowns at a time. Included once for each kind of processor. */

typedef double OWN(group) __attribute__((vector_size(LANES * sizeof(double)), aligned(8)));
#define lanes OWN(group)

INLINE double OWN(total)(lanes x) {
#if LANES == 8
    return ((x[0] + x[4]) + (x[2] + x[6])) + ((x[1] + x[5]) + (x[3] + x[7]));
#elif LANES == 4
    return (x[0] + x[2]) + (x[1] + x[3]);
#else
    return x[0] + x[1];
#endif
}

/* The totals of BLOCK groups, each summed in the order of `total`. */
INLINE void OWN(totals)(const lanes *x, double *found) {
#if LANES == 8 && defined(SHUFFLES)
    lanes four[4], two[2], all;
    for (int i = 0; i < 4; i++)
        four[i] = __builtin_shufflevector(x[2 * i], x[2 * i + 1], 0, 1, 2, 3, 8, 9, 10, 11) +
                  __builtin_shufflevector(x[2 * i], x[2 * i + 1], 4, 5, 6, 7, 12, 13, 14, 15);
    for (int i = 0; i < 2; i++)
        two[i] = __builtin_shufflevector(four[2 * i], four[2 * i + 1], 0, 1, 4, 5, 8, 9, 12, 13) +
                 __builtin_shufflevector(four[2 * i], four[2 * i + 1], 2, 3, 6, 7, 10, 11, 14, 15);
    all = __builtin_shufflevector(two[0], two[1], 0, 2, 4, 6, 8, 10, 12, 14) +
          __builtin_shufflevector(two[0], two[1], 1, 3, 5, 7, 9, 11, 13, 15);
    memcpy(found, &all, sizeof all);
#else
    for (int m = 0; m < BLOCK; m++) found[m] = OWN(total)(x[m]);
#endif
}

/* Writes BLOCK sums down as heights over crown `j`. */
INLINE void OWN(heights_of)(const lanes *sum, int j, double height[BLOCK][MOST_CROWNS]) {
    double found[BLOCK];
    OWN(totals)(sum, found);
    for (int m = 0; m < BLOCK; m++) height[m][j] = found[m];
}

/* Heights at the `wide` live crowns `which` for BLOCK steps: sums stay in registers, each place is read once for all of
 * them. */
INLINE void OWN(gather)(const note *n, int64_t used, const int *which, int wide,
                        double height[BLOCK][MOST_CROWNS]) {
    const lanes *shape[WIDE], *work = (const lanes *)n->work;
    lanes sum[WIDE][BLOCK];
    for (int w = 0; w < wide; w++) {
        shape[w] = (const lanes *)n->shape + n->row[which[w]] * n->chunks;
        for (int m = 0; m < BLOCK; m++) sum[w][m] = (lanes){0};
    }
    for (int64_t k = 0; k < used; k++)
        for (int m = 0; m < BLOCK; m++) {
            lanes place = work[k * BLOCK + m];
            for (int w = 0; w < wide; w++) sum[w][m] += shape[w][k] * place;
        }
    for (int w = 0; w < wide; w++) OWN(heights_of)(sum[w], which[w], height);
}

/* The same at `count` live crowns. */
INLINE void OWN(gather_all)(const note *n, int64_t used, const int *which, int64_t count,
                            double height[BLOCK][MOST_CROWNS]) {
    int64_t j = 0;
    for (; j + WIDE <= count; j += WIDE) OWN(gather)(n, used, which + j, WIDE, height);
    for (; j < count; j++) OWN(gather)(n, used, which + j, 1, height);
}

/* Lowest heights at `wide` far crowns `which`: their low modes are seen at the steps of SEEN only; in between a string is
 * no lower than the chord less `near`, and its other modes lower it by `rest` at most. `here` is the depth at the state, or
 * more. */
INLINE void OWN(glance)(const note *n, const int *which, int wide, const double *rest, const double *near,
                        const double *here, double height[BLOCK][MOST_CROWNS]) {
    const lanes *shape[2], *work = (const lanes *)n->work;
    lanes sum[2][3];
    for (int w = 0; w < wide; w++) {
        shape[w] = (const lanes *)n->shape + n->row[which[w]] * n->chunks;
        for (int i = 0; i < 3; i++) sum[w][i] = (lanes){0};
    }
    for (int64_t k = 0; k < n->wide_used; k++)
        for (int i = 0; i < 3; i++) {
            lanes place = work[k * BLOCK + SEEN[i]];
            for (int w = 0; w < wide; w++) sum[w][i] += shape[w][k] * place;
        }
    for (int w = 0; w < wide; w++) {
        int j = which[w];
        for (int i = 0; i < 3; i++) height[SEEN[i]][j] = OWN(total)(sum[w][i]) - rest[j];
        double from = -(n->gap[n->row[j]] + here[j]) - 2.0 * rest[j], to = height[HALF - 1][j];
        for (int m = 0; m < BLOCK; m++) {
            if (m == HALF) {
                from = to;
                to = height[BLOCK - 1][j];
            }
            if (m % HALF != HALF - 1 && m != BLOCK - 2)
                height[m][j] = from + (to - from) * (m % HALF + 1) / HALF - near[j];
        }
    }
}

/* Places of the next BLOCK free steps of `table` into work[group][m], of the first `used` groups of modes only. */
INLINE void OWN(places_ahead)(const note *n, const double *table, int64_t used) {
    const lanes *place = (const lanes *)n->place, *speed = (const lanes *)n->speed, *turn = (const lanes *)table;
    for (int64_t k = 0; k < used; k++) {
        lanes q = place[k], v = speed[k], *ahead = (lanes *)n->work + k * BLOCK;
        lanes c[HALF], s[HALF];
        for (int m = 0; m < HALF; m++) {
            c[m] = turn[m * n->chunks + k];
            s[m] = turn[(HALF + m) * n->chunks + k];
            ahead[m] = c[m] * q + s[m] * v;
        }
        lanes far_v = c[HALF - 1] * v - s[HALF - 1] * q, far_q = ahead[HALF - 1];
        for (int m = 0; m < HALF; m++) ahead[HALF + m] = c[m] * far_q + s[m] * far_v;
    }
}

/* Places of the next BLOCK free steps of `table` in registers only, and heights at the `wide` live crowns `which` from them. */
INLINE void OWN(look_at_few)(const note *n, const double *table, const int *which, int wide,
                             double height[BLOCK][MOST_CROWNS]) {
    const lanes *place = (const lanes *)n->place, *speed = (const lanes *)n->speed, *turn = (const lanes *)table;
    const lanes *shape[WIDE];
    lanes sum[WIDE][BLOCK];
    for (int w = 0; w < wide; w++) {
        shape[w] = (const lanes *)n->shape + n->row[which[w]] * n->chunks;
        for (int m = 0; m < BLOCK; m++) sum[w][m] = (lanes){0};
    }
    for (int64_t k = 0; k < n->used; k++) {
        lanes q = place[k], v = speed[k], ahead = q;
        for (int half = 0; half < BLOCK / HALF; half++) {
            for (int m = 0; m < HALF; m++) {
                ahead = turn[m * n->chunks + k] * q + turn[(HALF + m) * n->chunks + k] * v;
                for (int w = 0; w < wide; w++) sum[w][half * HALF + m] += shape[w][k] * ahead;
            }
            v = turn[(HALF - 1) * n->chunks + k] * v - turn[(2 * HALF - 1) * n->chunks + k] * q;
            q = ahead;
        }
    }
    for (int w = 0; w < wide; w++) OWN(heights_of)(sum[w], which[w], height);
}

/* Places of the next BLOCK free steps of `table` into work, and heights at all live crowns into height[m][crown]. */
INLINE void OWN(look_ahead)(const note *n, const double *table, int64_t used,
                            double height[BLOCK][MOST_CROWNS]) {
    int which[MOST_CROWNS];
    for (int j = 0; j < n->live; j++) which[j] = j;
    OWN(places_ahead)(n, table, used);
    OWN(gather_all)(n, used, which, n->live, height);
}

/* Heights of the places `at` over `wide` crowns from the first on: as many sums at once as hide each other's delay. */
INLINE void OWN(gather_one)(const note *n, const lanes *at, int64_t first, int wide, double *height) {
    const lanes *shape[4];
    lanes sum[4];
    for (int w = 0; w < wide; w++) {
        shape[w] = (const lanes *)n->shape + n->row[first + w] * n->chunks;
        sum[w] = (lanes){0};
    }
    for (int64_t k = 0; k < n->used; k++)
        for (int w = 0; w < wide; w++) sum[w] += shape[w][k] * at[k];
    for (int w = 0; w < wide; w++) height[first + w] = OWN(total)(sum[w]);
}

INLINE void OWN(heights)(const note *n, const lanes *at, double *height) {
    int64_t j = 0;
    for (; j + 4 <= n->live; j += 4) OWN(gather_one)(n, at, j, 4, height);
    for (; j < n->live; j++) OWN(gather_one)(n, at, j, 1, height);
}

/* Move the state to free step m of the block (m counts from 0). */
INLINE void OWN(settle)(const note *n, int m) {
    lanes *place = (lanes *)n->place, *speed = (lanes *)n->speed;
    const lanes *work = (const lanes *)n->work, *turn = (const lanes *)n->turn;
    const lanes *c = turn + m % HALF * n->chunks, *s = c + HALF * n->chunks;
    const lanes *half_c = turn + (HALF - 1) * n->chunks, *half_s = half_c + HALF * n->chunks;
    for (int64_t k = 0; k < n->used; k++) {
        lanes q = place[k], v = speed[k];
        if (m >= HALF) {
            v = half_c[k] * v - half_s[k] * q;
            q = work[k * BLOCK + HALF - 1];
        }
        speed[k] = c[k] * v - s[k] * q;
        place[k] = work[k * BLOCK + m];
    }
}

/* Turn the state by `steps` free steps, in as few turns as the tables have, all of them at once for each group. */
INLINE void OWN(turn_by)(const note *n, int64_t steps) {
    lanes *place = (lanes *)n->place, *speed = (lanes *)n->speed;
    const double *table[3] = {n->turn_wide, n->turn_near, n->turn};
    const lanes *turn[MOST_TURNS];
    int64_t part[3] = {steps / WIDE_LOOK, steps % WIDE_LOOK / NEAR_LOOK, steps % NEAR_LOOK};
    int turns = 0;
    for (int i = 0; i < 3; i++)
        for (; part[i] > 0; part[i] -= HALF)
            turn[turns++] = (const lanes *)table[i] + ((part[i] < HALF ? part[i] : HALF) - 1) * n->chunks;
    for (int64_t k = 0; k < n->used; k++) {
        lanes q = place[k], v = speed[k];
        for (int i = 0; i < turns; i++) {
            lanes c = turn[i][k], s = turn[i][HALF * n->chunks + k], far_q = c * q + s * v;
            v = c * v - s * q;
            q = far_q;
        }
        place[k] = q;
        speed[k] = v;
    }
}

/* How far a free string can rise above what is seen of it, at each live crown: `rest` by the modes that a wide look leaves
 * out, `wide` and `near` between two looks of either kind. A chord is wrong by at most h²/8 of the curvature, which is at
 * most the sum of amplitude times angular frequency squared; amplitudes only fall while nothing pushes. */
INLINE void OWN(bound)(const note *n, double *rest, double *wide, double *near) {
    const lanes *place = (const lanes *)n->place, *speed = (const lanes *)n->speed, *bend = (const lanes *)n->bend;
    lanes *size = (lanes *)n->work;
    for (int64_t k = 0; k < n->used; k++) {
        lanes square = place[k] * place[k] + speed[k] * speed[k];
        for (int i = 0; i < LANES; i++) size[k][i] = sqrt(square[i]);
    }
    for (int64_t j = 0; j < n->live; j++) {
        const lanes *shape = (const lanes *)n->shape + n->row[j] * n->chunks;
        lanes low = {0}, high = {0}, all = {0};
        for (int64_t k = 0; k < n->used; k++) {
            lanes most;
            for (int i = 0; i < LANES; i++) most[i] = fabs(shape[k][i] * size[k][i]);
            lanes curved = most * bend[k];
            all += curved;
            if (k < n->wide_used) low += curved;
            else high += most;
        }
        rest[j] = OWN(total)(high);
        wide[j] = WIDE_LOOK * WIDE_LOOK * OWN(total)(low);
        near[j] = NEAR_LOOK * NEAR_LOOK * OWN(total)(all);
    }
}

/* Free steps, at most BLOCK looks of `stride` steps, that meet none of the `count` crowns `which` for certain. */
INLINE int64_t OWN(sure)(const note *n, int64_t stride, const double *margin, const int *which, int count,
                         double height[BLOCK][MOST_CROWNS]) {
    for (int m = 0; m < BLOCK; m++)
        for (int i = 0; i < count; i++) {
            int j = which[i];
            if (margin[j] - n->gap[n->row[j]] - height[m][j] >= 0.0) return m * stride;
        }
    return BLOCK * stride;
}

/* Skip free steps that meet no crown for certain, all but the last of them: its heights are still to be looked at.
 * A near look is taken only at crowns that the first wide look does not prove far until its end, which is where a near
 * look ends too. Returns how many steps were skipped; here = depth at the state, in and out. */
INLINE int64_t OWN(skip)(const note *n, int64_t left, const double *rest, const double *wide, const double *near,
                         double *here) {
    double margin[MOST_CROWNS], height[BLOCK][MOST_CROWNS], now[MOST_CROWNS];
    int which[MOST_CROWNS], count = (int)n->live, some = 0, far = 1, close = left >= BLOCK * NEAR_LOOK;
    int64_t steps = 0;
    for (int j = 0; j < count; j++) which[j] = j;
    if (left >= BLOCK * WIDE_LOOK) {
        for (int j = 0; j < count; j++) {
            margin[j] = rest[j] + wide[j];
            far = far && here[j] + rest[j] + margin[j] < 0.0;
        }
        OWN(look_ahead)(n, n->turn_wide, n->wide_used, height);
        if (far) steps = OWN(sure)(n, WIDE_LOOK, margin, which, count, height);
        for (int j = 0; j < count; j++)
            if (here[j] + rest[j] + margin[j] >= 0.0 || margin[j] - n->gap[n->row[j]] - height[0][j] >= 0.0)
                which[some++] = j;
        count = some;
    }
    for (int i = 0; i < count; i++) close = close && here[which[i]] + near[which[i]] < 0.0;
    if (steps == 0 && close) {
        if (count > WIDE) {
            OWN(places_ahead)(n, n->turn_near, n->used);
            OWN(gather_all)(n, n->used, which, count, height);
        } else if (count == WIDE) OWN(look_at_few)(n, n->turn_near, which, WIDE, height);
        else OWN(look_at_few)(n, n->turn_near, which, 1, height);
        steps = OWN(sure)(n, NEAR_LOOK, near, which, count, height);
    }
    if (steps < LEAST_SKIP) return 0;
    steps -= 1;
    OWN(turn_by)(n, steps);
    OWN(heights)(n, (const lanes *)n->place, now);
    for (int j = 0; j < n->live; j++) here[j] = -(n->gap[n->row[j]] + now[j]);
    return steps;
}

/* answer[m, i, j]: place of live crown i per newton at live crown j, at the end of the step of the push (m = 0) and of the
 * steps after it; rows lie `across` apart. */
INLINE void OWN(answers)(const note *n, double *answer) {
    int64_t row = across(n), step = row * n->live;
    const lanes *kick = (const lanes *)n->kick, *turn = (const lanes *)n->turn;
    lanes *after = (lanes *)n->work;
    for (int64_t k = 0; k < n->used; k++) {
        lanes half_c = turn[(HALF - 1) * n->chunks + k], half_s = turn[(2 * HALF - 1) * n->chunks + k];
        for (int m = 0; m < HALF; m++) {
            lanes c = turn[m * n->chunks + k], s = turn[(HALF + m) * n->chunks + k];
            after[k * BLOCK + m] = kick[k] * s;
            after[k * BLOCK + HALF + m] = kick[k] * (half_c * s + half_s * c);
        }
    }
    for (int64_t i = 0; i < n->live; i++)
        for (int64_t j = i; j < n->live; j++) {
            const lanes *here = (const lanes *)n->shape + n->row[i] * n->chunks;
            const lanes *there = (const lanes *)n->shape + n->row[j] * n->chunks;
            lanes sum[BLOCK];
            for (int m = 0; m < BLOCK; m++) sum[m] = (lanes){0};
            for (int64_t k = 0; k < n->used; k++) {
                lanes both = here[k] * there[k];
                for (int m = 0; m < BLOCK; m++) sum[m] += both * after[k * BLOCK + m];
            }
            for (int m = 0; m < BLOCK; m++)
                answer[m * step + i * row + j] = answer[m * step + j * row + i] = OWN(total)(sum[m]);
        }
}

/* stir[j, i]: by how much a newton of live crown i, for one step, raises what `near` is at live crown j; after that the same
 * of `rest`. */
INLINE void OWN(stirs)(const note *n, double *stir) {
    int64_t row = across(n);
    const lanes *kick = (const lanes *)n->kick, *bend = (const lanes *)n->bend;
    for (int64_t i = 0; i < n->live; i++)
        for (int64_t j = i; j < n->live; j++) {
            const lanes *here = (const lanes *)n->shape + n->row[i] * n->chunks;
            const lanes *there = (const lanes *)n->shape + n->row[j] * n->chunks;
            lanes curved = {0}, high = {0};
            for (int64_t k = 0; k < n->used; k++) {
                lanes both = here[k] * there[k] * kick[k];
                for (int l = 0; l < LANES; l++) both[l] = fabs(both[l]);
                curved += both * bend[k];
                if (k >= n->wide_used) high += both;
            }
            stir[i * row + j] = stir[j * row + i] = NEAR_LOOK * NEAR_LOOK * OWN(total)(curved);
            stir[(n->live + i) * row + j] = stir[(n->live + j) * row + i] = OWN(total)(high);
        }
}

/* Move the state over `count` steps in which crowns pushed with force[step][crown]; `pushing` lists those crowns. */
INLINE void OWN(settle_pushed)(const note *n, int count, double force[BLOCK][MOST_CROWNS], int pushed, const int *pushing) {
    lanes *place = (lanes *)n->place, *speed = (lanes *)n->speed;
    const lanes *kick = (const lanes *)n->kick, *turn = (const lanes *)n->turn, *shape[MOST_CROWNS];
    for (int p = 0; p < pushed; p++) shape[p] = (const lanes *)n->shape + n->row[pushing[p]] * n->chunks;
    for (int64_t k = 0; k < n->used; k++) {
        lanes q = place[k], v = speed[k], push_here[BLOCK];
        for (int m = 0; m < BLOCK; m++) push_here[m] = (lanes){0};
        for (int p = 0; p < pushed; p++) {
            lanes by = kick[k] * shape[p][k];
            for (int m = 0; m < BLOCK; m++) push_here[m] += by * force[m][pushing[p]];
        }
        int m = 0;
        for (; m + HALF <= count; m += HALF) {
            /* HALF steps at once: what each push leaves at their end, and the state turned over all of them. */
            lanes half_c = turn[(HALF - 1) * n->chunks + k], half_s = turn[(2 * HALF - 1) * n->chunks + k];
            lanes far_q = half_c * q + half_s * v, far_v = half_c * v - half_s * q;
            for (int i = 0; i < HALF; i++) {
                far_q += turn[(2 * HALF - 1 - i) * n->chunks + k] * push_here[m + i];
                far_v += turn[(HALF - 1 - i) * n->chunks + k] * push_here[m + i];
            }
            q = far_q;
            v = far_v;
        }
        for (; m < count; m++) {
            lanes kicked = v + push_here[m], c = turn[k], s = turn[HALF * n->chunks + k];
            v = c * kicked - s * q;
            q = c * q + s * kicked;
        }
        place[k] = q;
        speed[k] = v;
    }
}

/* Depths at step m of a block if nothing pushed at it: what is seen ahead, less what earlier pushes of the block add. */
INLINE void OWN(depths)(const note *n, int m, int first, double height[BLOCK][MOST_CROWNS],
                        const double *answer, double force[BLOCK][MOST_CROWNS], int pushed, const int *pushing,
                        double *free) {
    int64_t row = across(n), step = row * n->live;
    for (int64_t j = 0; j < n->live; j++) free[j] = -(n->gap[n->row[j]] + height[m][j]);
    for (int before = first; before >= 0 && before < m; before++)
        for (int p = 0; p < pushed; p++) {
            double by = force[before][pushing[p]];
            const double *add = answer + (m - before) * step + pushing[p] * row;
            if (by == 0.0) continue;
            for (int64_t j = 0; j < n->live; j++) free[j] -= add[j] * by;
        }
}

/* What of the next block is worked out: `far` crowns are only bounded; `whole`: work holds the places of all modes. */
typedef struct {
    int far[MOST_CROWNS], whole;
} OWN(view);

/* Heights of the block at one crown, exactly. */
INLINE void OWN(look_closely)(const note *n, int j, OWN(view) *seen, double height[BLOCK][MOST_CROWNS]) {
    if (!seen->whole) OWN(places_ahead)(n, n->turn, n->used);
    seen->whole = 1;
    OWN(gather)(n, n->used, &j, 1, height);
    seen->far[j] = 0;
}

/* Looks closely at every crown that is only bounded and of which `met` says that it may be met; returns whether there was
 * any. */
INLINE int OWN(closer)(const note *n, OWN(view) *seen, const double *met, double height[BLOCK][MOST_CROWNS]) {
    int some = 0;
    for (int j = 0; j < n->live; j++)
        if (seen->far[j] && met[j] > 0.0) {
            OWN(look_closely)(n, j, seen, height);
            some = 1;
        }
    return some;
}

/* Heights of the next block at crowns that are near; bounds at those that are far, by what the last two depths and the
 * bounds tell. A crown that might be met within two steps after the block is looked at closely: what its depths were then
 * counts. */
INLINE void OWN(look_where_it_matters)(const note *n, const double *was, const double *here, const double *rest,
                                       const double *near, OWN(view) *seen, double height[BLOCK][MOST_CROWNS]) {
    int close[MOST_CROWNS], distant[MOST_CROWNS], closes = 0, distants = 0, j = 0;
    for (int i = 0; i < n->live; i++) {
        double soon = here[i] + fmax(here[i] - was[i], 0.0) * BLOCK;
        seen->far[i] = fmax(soon, here[i]) + 4.0 * rest[i] + 2.0 * near[i] < 0.0;
        if (seen->far[i]) distant[distants++] = i;
        else close[closes++] = i;
    }
    seen->whole = closes > WIDE;
    if (seen->whole || distants) OWN(places_ahead)(n, n->turn, seen->whole ? n->used : n->wide_used);
    if (seen->whole) OWN(gather_all)(n, n->used, close, closes, height);
    else if (closes == WIDE) OWN(look_at_few)(n, n->turn, close, WIDE, height);
    else if (closes) OWN(look_at_few)(n, n->turn, close, 1, height);
    for (; j + 2 <= distants; j += 2) OWN(glance)(n, distant + j, 2, rest, near, here, height);
    for (; j < distants; j++) OWN(glance)(n, distant + j, 1, rest, near, here, height);
    for (int i = 0; i < distants; i++) {
        double gap = n->gap[n->row[distant[i]]];
        double before = -(gap + height[BLOCK - 2][distant[i]]), end = -(gap + height[BLOCK - 1][distant[i]]);
        if (end + 2.0 * fmax(end - before, 0.0) + 4.0 * rest[distant[i]] + 2.0 * near[distant[i]] >= 0.0)
            OWN(look_closely)(n, distant[i], seen, height);
    }
}

/* Up to BLOCK steps, each looked at: the free motion of all of them first, then step by step what the crowns add to it.
 * was = depth one step before the state; here = depth at the state; rest and near grow by what is pushed. Returns the steps
 * since the last push, or -1: none. */
INLINE int OWN(steps)(const note *n, int count, int64_t at, const double *answer, const double *stir, double *rest,
                      double *near, double *was, double *here) {
    double height[BLOCK][MOST_CROWNS], force[BLOCK][MOST_CROWNS], free[MOST_CROWNS];
    int64_t live = n->live;
    int last = -1, first = -1, pushed = 0, pushing[MOST_CROWNS], pushes[MOST_CROWNS] = {0};
    OWN(view) seen = {{0}, 1};
    if (count == BLOCK) OWN(look_where_it_matters)(n, was, here, rest, near, &seen, height);
    else OWN(look_ahead)(n, n->turn, n->used, height);
    for (int m = 0; m < count; m++) {
        int meets = 0;
        double change = 0.0;
        do OWN(depths)(n, m, first, height, answer, force, pushed, pushing, free);
        while (OWN(closer)(n, &seen, free, height));
        for (int64_t j = 0; j < live; j++) meets |= free[j] > 0.0 || was[j] > 0.0;
        if (meets) {
            change = sweep(n, answer, was, free, force[m]);
            /* A push may lift the string into a crown that was only glanced at. */
            while (OWN(closer)(n, &seen, force[m], height)) {
                OWN(depths)(n, m, first, height, answer, force, pushed, pushing, free);
                change = sweep(n, answer, was, free, force[m]);
            }
            if (change > *n->residual) *n->residual = change;
            if (first < 0) {
                first = m;
                for (int b = 0; b < m; b++) memset(force[b], 0, sizeof(double) * (size_t)live);
            }
            for (int64_t j = 0; j < live; j++) {
                if (force[m][j] < *n->least_force) *n->least_force = force[m][j];
                if (force[m][j] == 0.0) continue;
                if (!pushes[j]) pushing[pushed++] = (int)j;
                pushes[j] = 1;
                tally(n, n->row[j], force[m][j], at + m);
                for (int64_t i = 0; i < live; i++) {
                    near[i] += stir[j * across(n) + i] * force[m][j];
                    rest[i] += stir[(live + j) * across(n) + i] * force[m][j];
                }
            }
            last = m;
        } else if (first >= 0) {
            memset(force[m], 0, sizeof(double) * (size_t)live);
        }
        for (int64_t j = 0; j < live; j++) {
            was[j] = here[j];
            here[j] = free[j];
        }
    }
    if (pushed == 0) {
        if (seen.whole) OWN(settle)(n, count - 1);
        else OWN(turn_by)(n, count);
    } else {
        for (int m = count; m < BLOCK; m++) memset(force[m], 0, sizeof(double) * (size_t)live);
        OWN(settle_pushed)(n, count, force, pushed, pushing);
    }
    return last < 0 ? -1 : count - 1 - last;
}

static void OWN(strike)(const note *n) {
    double answer[BLOCK * MOST_CROWNS * MOST_CROWNS], stir[2 * MOST_CROWNS * MOST_CROWNS];
    double was[MOST_CROWNS], here[MOST_CROWNS];
    double rest[MOST_CROWNS], wide[MOST_CROWNS], near[MOST_CROWNS];
    int64_t live = n->live, at = 0;
    int bounded = 0, calm = 0;
    OWN(answers)(n, answer);
    OWN(stirs)(n, stir);
    OWN(bound)(n, rest, wide, near);
    memcpy(was, n->depth, sizeof(double) * (size_t)live);
    memcpy(here, n->depth + live, sizeof(double) * (size_t)live);
    while (at < n->steps) {
        if (calm >= 2) {
            if (!bounded) OWN(bound)(n, rest, wide, near);
            bounded = 1;
            int64_t skipped = OWN(skip)(n, n->steps - at, rest, wide, near, here);
            at += skipped;
            /* The step that follows is known to be free: what the depth was before it does not count. */
            for (int64_t j = 0; skipped && j < live; j++) was[j] = here[j];
            if (skipped) continue;
        }
        int count = n->steps - at < BLOCK ? (int)(n->steps - at) : BLOCK;
        int since = OWN(steps)(n, count, at, answer, stir, rest, near, was, here);
        at += count;
        calm = since < 0 ? calm + count : since;
        bounded = bounded && since < 0;
    }
    memcpy(n->depth, was, sizeof(double) * (size_t)live);
    memcpy(n->depth + live, here, sizeof(double) * (size_t)live);
}

static void OWN(swing)(const note *n, double *out) {
    double height[BLOCK][MOST_CROWNS];
    for (int64_t at = 0; at < n->steps; at += BLOCK) {
        OWN(look_ahead)(n, n->turn, n->used, height);
        OWN(settle)(n, BLOCK - 1);
        for (int64_t j = 0; j < n->live; j++)
            for (int m = 0; m < BLOCK && at + m < n->steps; m++) out[j * n->steps + at + m] = height[m][j];
    }
}

#undef lanes
