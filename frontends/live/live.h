/* hyoid live: hear it while you turn the clock.
 *
 *     keys, lines -> command -> session -> rings -> player (audio callback: engine -> post) -> device
 *                                  ^                  |
 *                    screen, take <- reports, samples +
 */
#ifndef HY_LIVE_H
#define HY_LIVE_H

int hy_live_main(int argc, char **argv);

#endif
