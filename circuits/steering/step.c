/*
 * Steers a swinging movement by the width of its pulses. Portable C99, also C++.
 *
 * Call steering_start once with the timer's count at an event, then steering_step with the count
 * at the event that is STEERING_BEATS beats after the one before. It returns the width, in
 * ticks, of the pulses up to the next correction. The count may wrap: 32 bits of it are used, and
 * a timer of fewer bits must be widened by counting its overflows.
 *
 * No product here exceeds 63 bits, whatever the counts are: the constants were checked for it.
 * No negative number is shifted: how that rounds is left open by the language.
 */
#include "steering_constants.h"

#include <stdint.h>

void steering_start(uint32_t now);
int32_t steering_step(uint32_t now);

static uint32_t steering_last;    /* count at the last correction, ticks */
static int64_t steering_error;    /* time error, 1/65536 tick; late is positive */
static int64_t steering_total;    /* sum of the time errors, ticks */
static int32_t steering_width;    /* ticks */
static uint16_t steering_skipped; /* intervals that were not believed */

#if STEERING_LAW != 2
static int64_t steering_rounded(int64_t number, int64_t divisor)
{
    if (number >= 0) {
        return (number + divisor / 2) / divisor;
    }
    return -((divisor / 2 - number) / divisor);
}
#endif

static int64_t steering_limited(int64_t number, int64_t least, int64_t most)
{
    if (number < least) {
        return least;
    }
    return number > most ? most : number;
}

void steering_start(uint32_t now)
{
    steering_last = now;
    steering_error = 0;
    steering_total = 0;
    steering_width = STEERING_WIDTH_CENTRE;
    steering_skipped = 0;
}

int32_t steering_step(uint32_t now)
{
    const uint32_t elapsed = (uint32_t)(now - steering_last);
    const int64_t difference = (int64_t)elapsed * 65536 - STEERING_NOMINAL;
    const int64_t believed = (int64_t)STEERING_INTERVAL_LIMIT * 65536;
    const int64_t most = (int64_t)STEERING_ERROR_LIMIT * 65536;
    int64_t seen, late, beyond, wanted;

    steering_last = now;
    if (difference > believed || difference < -believed) {
        /* A missed or a doubled event: the width stays as it is. */
        if (steering_skipped < 65535) {
            ++steering_skipped;
        }
        return steering_width;
    }
    seen = steering_limited(steering_error + difference, -most, most);
    late = seen / 65536;
    beyond = 0;
    if (late > STEERING_DEAD_BAND) {
        beyond = late - STEERING_DEAD_BAND;
    } else if (late < -STEERING_DEAD_BAND) {
        beyond = late + STEERING_DEAD_BAND;
    }

#if STEERING_LAW == 2 /* one width step up or down */
    wanted = steering_width;
    if (beyond != 0) {
        wanted += beyond > 0 ? STEERING_DIRECTION * (int64_t)STEERING_WIDTH_STEP
                             : -STEERING_DIRECTION * (int64_t)STEERING_WIDTH_STEP;
        seen -= late * 65536;
    }
    steering_error = seen;
#else
    {
        const int64_t divisor = (int64_t)STEERING_WIDTH_STEP << STEERING_SHIFT;
        int64_t summed = steering_total, push = difference;
        int64_t number = STEERING_KI * beyond;
#if STEERING_LAW == 0 /* in proportion to the time error, and to its sum */
        summed = steering_limited(summed + beyond, -STEERING_TOTAL_LIMIT, STEERING_TOTAL_LIMIT);
        push = beyond;
        number = STEERING_KP * beyond + STEERING_KI * summed;
#endif
        wanted = STEERING_WIDTH_CENTRE + STEERING_DIRECTION * (int64_t)STEERING_WIDTH_STEP
                     * steering_rounded(number, divisor);
        push *= STEERING_DIRECTION;
        /* At a limit nothing is gathered that would push the width further beyond it. */
        if ((wanted <= STEERING_WIDTH_MAX || push <= 0)
            && (wanted >= STEERING_WIDTH_MIN || push >= 0)) {
            steering_total = summed;
            steering_error = seen;
        }
#if STEERING_LAW == 0
        steering_error = seen;
#endif
    }
#endif
    steering_width = (int32_t)steering_limited(wanted, STEERING_WIDTH_MIN, STEERING_WIDTH_MAX);
    return steering_width;
}
