// A one-car garage in which bicycle repairs are filmed; metres. Made here, to
// judge separation and set check by an independent ray tracer.
//
// Declare=LAMP=0..5 picks the light: 0 lantern key (soft), 1 bounced fill
// (very soft), 2 rim spot (hard), 3 pegboard tube (cyan, a row), 4 red tail
// lamp (seen in the picture), 5 daylight through the door (no switch).
// Declare=PX, PZ, LEAN move the mechanic; Declare=PAN turns the camera, degrees.
// Light falls with the square of the distance: fade_distance 0.01, fade_power 2
// make a lamp colour of I*5000 behave as I candela.
#version 3.7;
#ifndef (LAMP) #declare LAMP=0; #end
#ifndef (PX) #declare PX=0; #end
#ifndef (PZ) #declare PZ=0; #end
#ifndef (LEAN) #declare LEAN=0; #end
#ifndef (PAN) #declare PAN=0; #end
#ifndef (RAD) #declare RAD=0; #end
global_settings {
  assumed_gamma 1.0
  max_trace_level 4
  #if (RAD) radiosity { count 300 error_bound 0.3 recursion_limit 2 nearest_count 10 pretrace_start 0.04 pretrace_end 0.008 brightness 1 } #end
}
#declare M = finish { ambient 0 emission 0 diffuse 1 }
camera { location <0,1.45,-3.1> look_at <0,1.1,0> right x*image_width/image_height angle 56 rotate <0,PAN,0> }
#declare R = seed(41);
// walls, floor, boards
plane { y, 0 pigment { checker rgb <0.20,0.19,0.17> rgb <0.26,0.24,0.22> scale 0.45 } finish { M } }
plane { -z, -1.7 pigment { rgb <0.24,0.22,0.19> } finish { M } }
plane { x, -2.6 pigment { brick rgb <0.30,0.30,0.30> rgb <0.36,0.30,0.26> scale 0.05 } finish { M } }
plane { -x, -2.6 pigment { rgb <0.33,0.33,0.31> } finish { M } }
plane { -y, -2.7 pigment { rgb 0.42 } finish { M } }
// pegboard with tools
box { <0.1,1.05,1.64>,<2.1,2.15,1.69> pigment { rgb <0.46,0.34,0.20> } finish { M } }
#declare I=0;
#while (I<26)
  #declare X = 0.2+1.8*rand(R); #declare Y = 1.15+0.9*rand(R);
  #declare W = 0.02+0.05*rand(R); #declare H = 0.04+0.14*rand(R);
  #declare C = <0.05+0.5*rand(R),0.05+0.5*rand(R),0.05+0.5*rand(R)>;
  box { <X-W,Y-H,1.58>,<X+W,Y+H,1.63> pigment { rgb C } finish { M } }
  #declare I=I+1;
#end
// bicycle wheels on the left wall side, bench, grey card
torus { 0.33,0.02 rotate x*90 translate <-1.5,0.9,1.4> pigment { rgb 0.05 } finish { M } }
torus { 0.33,0.02 rotate x*90 translate <-0.75,0.9,1.45> pigment { rgb 0.06 } finish { M } }
cylinder { <-1.5,0.9,1.4>,<-0.75,0.9,1.45>,0.02 pigment { rgb <0.5,0.06,0.05> } finish { M } }
box { <-1.6,0.78,-0.3>,<-0.6,0.82,0.6> pigment { wood color_map { [0 rgb <0.30,0.20,0.11>] [1 rgb <0.22,0.14,0.08>] } scale 0.08 } finish { M } }
box { <-1.55,0,-0.25>,<-1.47,0.78,-0.17> pigment { rgb 0.15 } finish { M } }
box { <0.70,0.95,0.30>,<0.95,1.2,0.31> pigment { rgb 0.18 } finish { M } }
// the mechanic
#declare HX = PX+LEAN;
sphere { <HX,1.50,PZ>,0.115 scale <1,1.18,1> translate <0,-0.27,0> pigment { rgb <0.45,0.31,0.25> } finish { M } }
sphere { <HX,1.56,PZ+0.03>,0.12 scale <1,1,1> pigment { rgb <0.06,0.045,0.04> } finish { M } }
cone { <PX,0.3,PZ>,0.27 <PX+LEAN*0.8,1.30,PZ>,0.17 pigment { rgb <0.09,0.13,0.22> } finish { M } }
sphere { <PX+LEAN*0.8,1.27,PZ>,0.175 pigment { rgb <0.09,0.13,0.22> } finish { M } }
cylinder { <PX-0.2+LEAN*0.8,1.2,PZ>,<PX-0.45,0.9,PZ-0.2>,0.05 pigment { rgb <0.09,0.13,0.22> } finish { M } }
// lamps
#declare Day=<0.93,1.00,1.12>; #declare Warm=<1.30,1.00,0.58>;
#if (LAMP=0) light_source { <-1.5,2.1,-1.5> color rgb 3.4*5000*Day area_light <0.5,0,0.2>,<0,0.5,0>,7,7 adaptive 1 area_illumination on fade_distance 0.01 fade_power 2 } #end
#if (LAMP=1) light_source { <1.8,2.2,-1.2> color rgb 1.3*5000*(0.6*Day+0.4*Warm) area_light <0,1.0,0>,<0.3,0,1.0>,7,7 adaptive 1 area_illumination on fade_distance 0.01 fade_power 2 } #end
#if (LAMP=2) light_source { <1.3,2.45,1.3> color rgb 2.6*5000*Warm spotlight point_at <0,1.3,0> radius 18 falloff 28 tightness 0 fade_distance 0.01 fade_power 2 } #end
#if (LAMP=3)
  #declare I=0; #while (I<6) light_source { <0.35+0.3*I,2.25,1.35> color rgb 0.055*5000*<0.25,0.75,1.05> fade_distance 0.01 fade_power 2 } #declare I=I+1; #end
#end
#if (LAMP=4)
  light_source { <-1.15,1.12,1.25> color rgb 0.22*5000*<1,0.09,0.04> fade_distance 0.01 fade_power 2 }
#end
sphere { <-1.15,1.12,1.25>,0.03 pigment { rgb <1,0.09,0.04> } finish { ambient 0 diffuse 0 #if (LAMP=4) emission 0.95 #else emission 0 #end } no_shadow }
#if (LAMP=5) light_source { <2.5,1.1,-1.9> color rgb 0.55*5000*<0.86,1.0,1.22> area_light <0,1.9,0>,<0.1,0,1.2>,6,6 adaptive 1 area_illumination on fade_distance 0.01 fade_power 2 } #end
