/* Manual pages in the man macros of roff. */
#ifndef GAINWALK_CLI_ROFF_H
#define GAINWALK_CLI_ROFF_H

#include "cli.h"

/* Text for the body: backslashes, hyphens and quotes kept as they are, line ends made blanks. */
void gw_roff_text(gw_text *out, const char *text);
/* A page's head: `.TH` and NAME. */
void gw_roff_begin(gw_text *out, const char *title, int section, const char *purpose);
void gw_roff_section(gw_text *out, const char *title);
void gw_roff_subsection(gw_text *out, const char *title);
void gw_roff_paragraph(gw_text *out, const char *text);
/* A hanging paragraph: `term` in bold, `rest` of its line in plain letters (NULL: none), then the text. */
void gw_roff_item(gw_text *out, const char *term, const char *rest, const char *text);
/* One more line in the paragraph at hand. */
void gw_roff_line(gw_text *out, const char *before, const char *text);
/* Lines as they are. */
void gw_roff_example(gw_text *out, const char *lines);

#endif
