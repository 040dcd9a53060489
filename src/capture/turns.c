#include "capture/turns.h"

#include <sched.h>

void gw_turn_await(gw_turns *turns, size_t turn) {
    enum { LOOKS = 2000 }; /* the other is nearly done, for the most part, and waking up takes longer */
    for (int look = 0; look < LOOKS && turns->next != turn; look++)
        sched_yield();
    pthread_mutex_lock(&turns->lock);
    while (turns->next != turn)
        pthread_cond_wait(&turns->passed, &turns->lock);
    pthread_mutex_unlock(&turns->lock);
}

void gw_turn_pass(gw_turns *turns) {
    pthread_mutex_lock(&turns->lock);
    turns->next++;
    pthread_cond_broadcast(&turns->passed);
    pthread_mutex_unlock(&turns->lock);
}
