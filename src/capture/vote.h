/* How a text is written: separator and decimal sign, found together by what parses. */
#ifndef GAINWALK_CAPTURE_VOTE_H
#define GAINWALK_CAPTURE_VOTE_H

#include "capture/rows.h"

typedef struct gw_vote {
    gw_format format;
    size_t rows;          /* of the best block in the part looked at; 0: no row of numbers under any reading */
    size_t expected_rows; /* of the whole text, with some to spare */
    bool beside;          /* a preamble stands beside the data, in the columns marked in `preamble` */
    unsigned char preamble[GW_COLUMNS_MAX];
} gw_vote;

/* Looks at the beginning of the text, as far as it takes to see a block of numbers. False when memory is out. */
bool gw_vote_take(gw_vote *vote, const gw_script *script, gw_error *error);

#endif
