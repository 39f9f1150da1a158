/* Writes a part as a folder beside the folder it came from: rows whose number changed get the new number and say from what, to what
 * and by what; all others are copied as they are. */
#ifndef TUNING_PARTOUT_H
#define TUNING_PARTOUT_H

#include <hyoid/hyoid.h>

/* `by` is the clause that new provenance ends with, such as "by a search of formants (reference/tuning)". It must not contain a
 * double quote. Ends the program with a message if a file can't be read or written. */
void part_write(const hyoid_part *part, const char *from_folder, const char *to_folder, const char *by);

#endif
