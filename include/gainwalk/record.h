/* Records: walks kept, and two of them compared. */
#ifndef GAINWALK_RECORD_H
#define GAINWALK_RECORD_H

#include "gainwalk/walk.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Declarations come with the record issue. */

#ifdef __cplusplus
}
#endif
#endif
