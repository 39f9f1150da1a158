# flite: English text to phones for `hyoid spell`. Without it everything else is built, and the verb says what it lacks.
#
# Three of its functions are exported but declared in no header (front_flite.c declares them): whether they are there, and
# take what we pass, is found out by compiling and linking a call of each.
option(HYOID_FLITE "Link flite, so that `hyoid spell` works" ON)
set(HYOID_FLITE_FOUND OFF)
set(HYOID_FLITE_LIBRARIES "")
if(HYOID_FLITE)
  find_path(FLITE_INCLUDE_DIR flite/flite.h)
  find_library(FLITE_LIBRARY flite)
  find_library(FLITE_USENGLISH_LIBRARY flite_usenglish)
  find_library(FLITE_CMULEX_LIBRARY flite_cmulex)
  if(FLITE_INCLUDE_DIR AND FLITE_LIBRARY AND FLITE_USENGLISH_LIBRARY AND FLITE_CMULEX_LIBRARY)
    include(CheckCSourceCompiles)
    include(CMakePushCheckState)
    cmake_push_check_state(RESET)
    set(CMAKE_REQUIRED_INCLUDES ${FLITE_INCLUDE_DIR})
    set(CMAKE_REQUIRED_LIBRARIES ${FLITE_USENGLISH_LIBRARY} ${FLITE_CMULEX_LIBRARY} ${FLITE_LIBRARY} m)
    check_c_source_compiles("
      #include <flite/flite.h>
      void usenglish_init(cst_voice *voice);
      cst_lexicon *cmu_lex_init(void);
      cst_utterance *utt_synth_text2segs(cst_utterance *utterance);
      int main(void)
      {
          cst_voice *voice = new_voice();
          usenglish_init(voice);
          cst_lexicon *lexicon = cmu_lex_init();
          return utt_synth_text2segs(new_utterance()) != NULL && lexicon->postlex != NULL;
      }" FLITE_HAS_TEXT_FRONT_END)
    cmake_pop_check_state()
    if(FLITE_HAS_TEXT_FRONT_END)
      set(HYOID_FLITE_FOUND ON)
      set(HYOID_FLITE_LIBRARIES ${FLITE_USENGLISH_LIBRARY} ${FLITE_CMULEX_LIBRARY} ${FLITE_LIBRARY})
    endif()
  endif()
  if(NOT HYOID_FLITE_FOUND)
    message(STATUS "flite (Debian: flite1-dev) was not found or lacks a function: hyoid spell will say so")
  endif()
endif()
