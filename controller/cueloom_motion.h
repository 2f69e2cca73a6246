/* How the receiver's references move. For cueloom_receiver.c only; see cueloom_motion.c. */
#ifndef CUELOOM_MOTION_H
#define CUELOOM_MOTION_H

#include "cueloom_receiver.h"

/* How long a leg is by its encoder and its reference, nm. */
double cl_length_nm(const cl_receiver *r, int leg);

/* References stand where the legs are: to be called while drives are off. */
void cl_stand(cl_receiver *r);

/* One tick of each kind. Faults that show by it are left in `fault`; the first one stays. */
void cl_find_fault(cl_receiver *r, uint8_t fault, int leg);
void cl_follow(cl_receiver *r, double now_us, double tick_s);
void cl_jog(cl_receiver *r, double tick_s);
void cl_begin_homing(cl_receiver *r);
void cl_home(cl_receiver *r, double tick_s);

/* All legs lose the same share of their speed, so that the platform stops along its line. 1 when they stand. */
int cl_slow(cl_receiver *r, double tick_s);

#endif
