/* Parts that are worked on side by side and joined one after the other. Private to src/capture/.
 *
 * OpenMP's `ordered` spins for milliseconds while another program has the processor of the thread that is waited for: a
 * large file took ten times as long then. Here the processor is given away at each look, and the thread sleeps in the
 * end. */
#ifndef GAINWALK_CAPTURE_TURNS_H
#define GAINWALK_CAPTURE_TURNS_H

#include <pthread.h>
#include <stdatomic.h>
#include <stddef.h>

typedef struct gw_turns {
    pthread_mutex_t lock;
    pthread_cond_t passed;
    atomic_size_t next;
} gw_turns;

#define GW_TURNS                                                                                                       \
    { .lock = PTHREAD_MUTEX_INITIALIZER, .passed = PTHREAD_COND_INITIALIZER }

/* Returns once all turns before `turn` have been passed; they count from 0, and each is taken once. */
void gw_turn_await(gw_turns *turns, size_t turn);
void gw_turn_pass(gw_turns *turns);

#endif
