/* The stepping of kernel.c for groups of LANES doubles, WIDE crowns at a time. Included once for each kind of processor. */

typedef double OWN(group) __attribute__((vector_size(LANES * sizeof(double)), aligned(8)));
#define lanes OWN(group)

INLINE double OWN(total)(lanes x) {
    double sum = 0.0;
    for (int i = 0; i < LANES; i++) sum += x[i];
    return sum;
}

/* Heights at `wide` crowns for `count` steps: sums stay in registers, each place is read once for all of them. */
INLINE void OWN(gather)(const note *n, int64_t first, int wide, int count, double height[BLOCK][MOST_CROWNS]) {
    const lanes *shape[WIDE], *work = (const lanes *)n->work;
    lanes sum[WIDE][BLOCK];
    for (int w = 0; w < wide; w++) {
        shape[w] = (const lanes *)n->shape + n->row[first + w] * n->chunks;
        for (int m = 0; m < count; m++) sum[w][m] = (lanes){0};
    }
    for (int64_t k = 0; k < n->used; k++)
        for (int m = 0; m < count; m++) {
            lanes place = work[k * BLOCK + m];
            for (int w = 0; w < wide; w++) sum[w][m] += shape[w][k] * place;
        }
    for (int w = 0; w < wide; w++)
        for (int m = 0; m < count; m++) height[m][first + w] = OWN(total)(sum[w][m]);
}

/* Places of the next `count` free steps into work[chunk][m], then heights at the crowns into height[m][crown]. */
INLINE void OWN(look_ahead)(const note *n, int count, double height[BLOCK][MOST_CROWNS]) {
    const lanes *place = (const lanes *)n->place, *speed = (const lanes *)n->speed;
    for (int64_t k = 0; k < n->used; k++) {
        lanes q = place[k], v = speed[k], *ahead = (lanes *)n->work + k * BLOCK;
        const lanes *turn = (const lanes *)n->turn + k * 2 * HALF;
        for (int m = 0; m < HALF && m < count; m++) ahead[m] = turn[m] * q + turn[HALF + m] * v;
        if (count <= HALF) continue;
        lanes far_v = turn[HALF - 1] * v - turn[2 * HALF - 1] * q, far_q = ahead[HALF - 1];
        for (int m = 0; m < HALF; m++) ahead[HALF + m] = turn[m] * far_q + turn[HALF + m] * far_v;
    }
    int64_t j = 0;
    for (; j + WIDE <= n->live; j += WIDE) OWN(gather)(n, j, WIDE, count, height);
    for (; j < n->live; j++) OWN(gather)(n, j, 1, count, height);
}

/* Move the state to free step m of the block (m counts from 0). */
INLINE void OWN(settle)(const note *n, int m) {
    lanes *place = (lanes *)n->place, *speed = (lanes *)n->speed;
    const lanes *work = (const lanes *)n->work;
    for (int64_t k = 0; k < n->used; k++) {
        const lanes *turn = (const lanes *)n->turn + k * 2 * HALF;
        lanes q = place[k], v = speed[k];
        int left = m;
        if (m >= HALF) {
            v = turn[HALF - 1] * v - turn[2 * HALF - 1] * q;
            q = work[k * BLOCK + HALF - 1];
            left = m - HALF;
        }
        speed[k] = turn[left] * v - turn[HALF + left] * q;
        place[k] = work[k * BLOCK + m];
    }
}

/* was = depth one step before the state; here = depth at the state. */
static void OWN(strike)(const note *n) {
    double height[BLOCK][MOST_CROWNS], was[MOST_CROWNS], here[MOST_CROWNS], free[MOST_CROWNS], force[MOST_CROWNS];
    const lanes *kick_place = (const lanes *)n->kick_place, *kick_speed = (const lanes *)n->kick_speed;
    lanes *place = (lanes *)n->place, *speed = (lanes *)n->speed;
    int64_t live = n->live, at = 0;
    int calm = 0;
    memcpy(was, n->depth, sizeof(double) * (size_t)live);
    memcpy(here, n->depth + live, sizeof(double) * (size_t)live);
    while (at < n->steps) {
        int count = (calm >= 2 && n->steps - at >= BLOCK) ? BLOCK : 1;
        if (count == BLOCK) OWN(look_ahead)(n, BLOCK, height);
        else OWN(look_ahead)(n, 1, height);
        int m = 0;
        while (m < count && !meets(n, height[m], was)) {
            for (int64_t j = 0; j < live; j++) {
                was[j] = here[j];
                here[j] = -(n->gap[n->row[j]] + height[m][j]);
            }
            m++;
        }
        if (m > 0) {
            OWN(settle)(n, m - 1);
            at += m;
            calm += m;
            if (m == count) continue;
            /* the next step meets a crown: take it alone, from the settled state */
            OWN(look_ahead)(n, 1, height);
            m = 0;
        }
        for (int64_t j = 0; j < live; j++) free[j] = -(n->gap[n->row[j]] + height[m][j]);
        *n->residual = fmax(*n->residual, sweep(n, was, free, force));
        OWN(settle)(n, 0);
        for (int64_t j = 0; j < live; j++) {
            *n->least_force = fmin(*n->least_force, force[j]);
            if (force[j] == 0.0) continue;
            int64_t row = n->row[j];
            const lanes *shape = (const lanes *)n->shape + row * n->chunks;
            for (int64_t k = 0; k < n->used; k++) {
                lanes push_here = shape[k] * force[j];
                place[k] += kick_place[k] * push_here;
                speed[k] += kick_speed[k] * push_here;
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

static void OWN(swing)(const note *n, double *out) {
    double height[BLOCK][MOST_CROWNS];
    for (int64_t at = 0; at < n->steps; at += BLOCK) {
        OWN(look_ahead)(n, BLOCK, height);
        OWN(settle)(n, BLOCK - 1);
        for (int64_t j = 0; j < n->live; j++)
            for (int m = 0; m < BLOCK && at + m < n->steps; m++) out[j * n->steps + at + m] = height[m][j];
    }
}

#undef lanes
