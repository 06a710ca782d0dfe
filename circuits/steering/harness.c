/*
 * Runs a step function against a movement for a year, in a process that may do nothing else.
 *
 * Numbers come in on standard input as doubles, one record a day goes out on standard output. The
 * movement: the arc follows the width with a lag; settled rate and arc stand in tables over the
 * width, for a few states of the cells in equal steps; besides, the width moves the rate at once.
 * Weather, crystal and cells come as a course in equal steps of time.
 */
#define _GNU_SOURCE
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "confine.h"

void steering_start(uint32_t now);
int32_t steering_step(uint32_t now);

#define TABLE_MOST 512
#define COURSE_MOST 20000
#define STATES_MOST 16

struct plan {
    double mark; /* repeated in each record, to tell them from what a step function prints */
    double tick, beat, beats, corrections, day;
    double time_constant, slope_prompt, jitter, seed;
    double width_start, width_min, width_max, arc_least;
    double origin, extra_at, extra_ticks;
    double table, course, course_step;
    double states, share_low, share_step;
};

struct record {
    double mark, steps, time, error, error_low, error_high, width_low, width_high, width_last,
        at_min, at_max, arc_low;
};

static struct plan plan;
static double widths[TABLE_MOST], rates[STATES_MOST][TABLE_MOST], arcs[STATES_MOST][TABLE_MOST];
static double weather[COURSE_MOST], crystal[COURSE_MOST], fresh[COURSE_MOST];
static uint64_t chance;

static void leave(int code)
{
    /* No clean-up of the foreign file's runs after this. */
    _exit(code);
}

static void take(void *where, size_t size)
{
    char *to = where;
    while (size > 0) {
        const ssize_t got = read(0, to, size);
        if (got <= 0) {
            leave(90);
        }
        to += got;
        size -= (size_t)got;
    }
}

static void give(const struct record *record)
{
    if (write(1, record, sizeof *record) != (ssize_t)sizeof *record) {
        leave(91);
    }
}

static double between(const double *x, const double *y, int count, double at)
{
    int low = 0, high = count - 1;
    if (at <= x[0]) {
        return y[0];
    }
    if (at >= x[high]) {
        return y[high];
    }
    while (high - low > 1) {
        const int middle = (low + high) / 2;
        if (x[middle] <= at) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return y[low] + (y[high] - y[low]) * (at - x[low]) / (x[high] - x[low]);
}

/* A table between the two states of the cells about a share of fresh ones. */
static double at_state(double tables[][TABLE_MOST], double share, double width)
{
    const int count = (int)plan.table, last = (int)plan.states - 2;
    double place = plan.share_step > 0 ? (share - plan.share_low) / plan.share_step : 0;
    int row = place < 0 ? 0 : (int)place;
    if (row > last) {
        row = last;
    }
    place -= row;
    return (1 - place) * between(widths, tables[row], count, width)
        + place * between(widths, tables[row + 1], count, width);
}

static double along(const double *course, double time)
{
    const double at = time / plan.course_step;
    const int count = (int)plan.course, low = at < 0 ? 0 : (int)at;
    if (low >= count - 1) {
        return course[count - 1];
    }
    return course[low] + (course[low + 1] - course[low]) * (at - low);
}

static double even(void)
{
    chance ^= chance >> 12;
    chance ^= chance << 25;
    chance ^= chance >> 27;
    return (double)((chance * UINT64_C(2685821657736338717)) >> 11) / 9007199254740992.0;
}

static double normal(void)
{
    double sum = -6.0;
    int k;
    for (k = 0; k < 12; ++k) {
        sum += even();
    }
    return sum;
}

/* The exponential of a number from -40 to 0, without the mathematical library. */
static double decay(double x)
{
    double term = 1.0, sum = 1.0;
    int k, halvings = 0;
    while (x < -0.25) {
        x /= 2;
        ++halvings;
    }
    for (k = 1; k < 14; ++k) {
        term *= x / k;
        sum += term;
    }
    while (halvings-- > 0) {
        sum *= sum;
    }
    return sum;
}

static uint32_t count_at(double time, double step)
{
    const double ticks = time / plan.tick;
    uint64_t whole = ticks > 0 ? (uint64_t)ticks : 0;
    whole += (uint64_t)plan.origin;
    if (plan.extra_at > 0 && step >= plan.extra_at) {
        whole += (uint64_t)plan.extra_ticks;
    }
    return (uint32_t)whole;
}

static void clear(struct record *record, double error)
{
    memset(record, 0, sizeof *record);
    record->mark = plan.mark;
    record->error_low = record->error_high = error;
    record->width_low = 1e300;
    record->width_high = -1e300;
    record->arc_low = 1e300;
}

static void run(void)
{
    const double interval = plan.beats * plan.beat;
    const double shift = interval / plan.time_constant;
    const double fade = decay(shift < 40 ? -shift : -40);
    const double mean = (1 - fade) / shift;
    double width = plan.width_start, lagged = plan.width_start;
    double time = 0, clock = 0, due = 0, error = 0, step;
    double next = plan.day;
    struct record record;

    clear(&record, 0);
    /* A second of count before the start: jitter may make the first event early. */
    steering_start(count_at(1.0, 0));
    for (step = 1; step <= plan.corrections; ++step) {
        const double share = along(fresh, time);
        const double middle = width + (lagged - width) * mean;
        const double rate = at_state(rates, share, middle)
            + plan.slope_prompt * (width - middle) + along(weather, time);
        double arc, took;
        int32_t ticks;

        if (rate < -0.5 || rate > 1.0) {
            leave(92);
        }
        took = interval / (1 + rate);
        time += took;
        clock += took * (1 + along(crystal, time));
        due += interval;
        lagged = width + (lagged - width) * fade;
        arc = at_state(arcs, share, lagged);

        ticks = steering_step(count_at(1.0 + clock + plan.jitter * normal(), step));
        error = clock - due;
        record.steps += 1;
        record.error_low = error < record.error_low ? error : record.error_low;
        record.error_high = error > record.error_high ? error : record.error_high;
        record.width_low = ticks < record.width_low ? ticks : record.width_low;
        record.width_high = ticks > record.width_high ? ticks : record.width_high;
        record.at_min += ticks <= plan.width_min;
        record.at_max += ticks >= plan.width_max;
        record.arc_low = arc < record.arc_low ? arc : record.arc_low;
        record.width_last = ticks;
        /* What no timer could do is not followed further than it goes. */
        width = ticks < 0 ? 0 : ticks * plan.tick;
        width = width > plan.beat ? plan.beat : width;
        if (time >= next || step == plan.corrections || arc < plan.arc_least) {
            record.time = time;
            record.error = error;
            give(&record);
            clear(&record, error);
            next += plan.day;
        }
        if (arc < plan.arc_least) {
            break;
        }
    }
}

int main(void)
{
#ifdef CONFINE_KERNEL
    struct sock_filter work[] = {
        CONFINE_HEAD, CONFINE_WORK, CONFINE_CALL_WITH(SYS_read, 0, 0, 0), CONFINE_STOP,
    };
#endif
    int state;

    take(&plan, sizeof plan);
    if (!(plan.table >= 2 && plan.table <= TABLE_MOST && plan.course >= 2
          && plan.course <= COURSE_MOST && plan.states >= 2 && plan.states <= STATES_MOST)) {
        leave(93);
    }
    take(widths, (size_t)plan.table * sizeof(double));
    for (state = 0; state < (int)plan.states; ++state) {
        take(rates[state], (size_t)plan.table * sizeof(double));
    }
    for (state = 0; state < (int)plan.states; ++state) {
        take(arcs[state], (size_t)plan.table * sizeof(double));
    }
    take(weather, (size_t)plan.course * sizeof(double));
    take(crystal, (size_t)plan.course * sizeof(double));
    take(fresh, (size_t)plan.course * sizeof(double));
    chance = (uint64_t)plan.seed * 2 + 1;
#ifdef CONFINE_KERNEL
    /* It fails only where the first list does not stand either, and that is known outside. */
    (void)CONFINE_INSTALL(work);
#endif
    run();
    leave(0);
    return 0;
}
