/* The whole public interface of libgainwalk. */
#ifndef GAINWALK_H
#define GAINWALK_H

#include "gainwalk/base.h"
#include "gainwalk/capture.h"
#include "gainwalk/chain.h"
#include "gainwalk/measure.h"
#include "gainwalk/record.h"
#include "gainwalk/report.h"
#include "gainwalk/walk.h"

#define GAINWALK_VERSION "0.1.0"

#endif
